#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The chains recomputed by another hand: Python's sqlite3, json and hashlib, from what DESIGN says of bodies and links.
# Its json.dumps with sorted keys and no spaces is RFC 8785 for whole numbers and such strings.
set -euo pipefail
mkdir -p made
"$BUILD_DIR/tests/kill_tool" made 0 1 >/dev/null # lays out a book and imports a file whole
python3 - made/book.db <<'PYTHON'
import hashlib, json, sqlite3, sys

book = sqlite3.connect(sys.argv[1])
book.row_factory = sqlite3.Row
canonical = lambda body: json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
sha256 = lambda text: hashlib.sha256(text.encode()).hexdigest()


def link(body, row, previous):
    return sha256(canonical({"body": body, "kind": row["kind"], "number": row["number"], "previous": previous,
                             "wall_ms": row["wall_ms"]}))


records = 0
previous = "00" * 32
for row in book.execute("SELECT * FROM book_entry ORDER BY number"):
    assert canonical(json.loads(row["body"])) == row["body"], row["number"]
    body = sha256(row["body"])
    assert body == row["body_sha256"].hex(), row["number"]
    previous = link(body, row, previous)
    assert previous == row["link_sha256"].hex(), row["number"]
    records += 1
assert previous == book.execute("SELECT head_link FROM book").fetchone()[0].hex()

columns = ["action", "at_ms", "by", "id", "item", "note", "reason", "redo", "seq", "site", "source", "value"]
for observation in book.execute("SELECT * FROM observation").fetchall():
    previous = "00" * 32
    for row in book.execute("SELECT * FROM entry WHERE observation_id = ? ORDER BY number", (observation["id"],)):
        body = {name: row[name] for name in columns if row[name] is not None}
        body["salt"] = row["salt"].hex()
        if row["details"] is not None:
            body["details"] = json.loads(row["details"])
        if row["kind"] == "open":
            session = book.execute("SELECT * FROM session WHERE code = ?", (observation["session"],)).fetchone()
            edition = book.execute("SELECT sha256 FROM edition WHERE rubric = ? AND edition = ?",
                                   (session["rubric"], session["edition"])).fetchone()
            body |= {"assessor": observation["assessor"], "mode": observation["mode"], "session": session["code"],
                     "trainee": session["trainee"], "rubric": session["rubric"], "edition": session["edition"],
                     "started_ms": session["started_ms"], "rubric_sha256": edition["sha256"]}
        body_sha256 = sha256(canonical(body))
        assert body_sha256 == row["body_sha256"].hex(), (observation["id"], row["number"])
        previous = link(body_sha256, row, previous)
        assert previous == row["link_sha256"].hex(), (observation["id"], row["number"])
        records += 1
    assert previous == observation["head_link"].hex(), observation["id"]
    digits = previous[:20]
    assert observation["receipt"] == " ".join(digits[i:i + 5] for i in range(0, 20, 5)), observation["id"]
assert records > 2000, records
print(records, "records recomputed")
PYTHON
