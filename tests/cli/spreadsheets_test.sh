#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# A sample session as spreadsheet programs leave it: what changes nothing is taken in as it was meant, what could mean
# something else is refused with what to do, and the book is as it was.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
export BENCHTALLY_BOOK=$WORK/book.db
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/arch-bars.yaml >/dev/null
python3 - "$SOURCE_DIR/sample_sessions" <<'PY'
import csv, io, sys
def save(name, rows, encoding="utf-8", end="\r\n", **how):
    text = io.StringIO()
    csv.writer(text, lineterminator=end, **how).writerows(rows)
    open(name, "wb").write(text.getvalue().encode(encoding))
rows = list(csv.reader(open(sys.argv[1] + "/redo-arch-bars.csv", encoding="utf-8")))
head, body = rows[0], rows[1:]
wide = len(head)
def changed(column, change):
    i = head.index(column)
    return [head] + [r[:i] + [change(r[i])] + r[i + 1:] for r in body]
save("plain.csv", rows)
save("quoted.csv", rows, quoting=csv.QUOTE_ALL)
save("marked.csv", rows, encoding="utf-8-sig")
save("old-line-ends.csv", rows, end="\r")
save("empty-rows.csv", [[""] * wide] + rows[:5] + [[""] * wide, []] + rows[5:] + [[""] * wide] * 30)
save("empty-columns.csv", [r + ["", ""] for r in rows])
save("blanks.csv", [rows[0]] + [[cell if "," in cell else " " + cell + " " for cell in r] for r in body])
save("hours.csv", changed("time", lambda t: "0:" + t.rjust(5, "0")))
save("semicolons.csv", rows, delimiter=";")
save("tabs.txt", rows, delimiter="\t")
save("unicode.txt", rows, encoding="utf-16", delimiter="\t")
save("day-times.csv", changed("time", lambda t: "12:" + t.rjust(5, "0") + " AM"))
save("apostrophe.csv", changed("time", lambda t: "'" + t))
save("dates.csv", changed("started", lambda t: "2/11/2026 13:15"))
save("capitals.csv", [[c.capitalize() for c in head]] + body)
save("upper-rubric.csv", changed("rubric", str.upper))
people = list(csv.reader(open(sys.argv[1] + "/people.csv", encoding="utf-8")))
save("people.csv", [r + ["", ""] for r in people[:4]] + [[""] * (len(people[0]) + 2)] * 3 + [r + ["", ""] for r in people[4:]])
PY
expect 0 '11 people added' "$BENCHTALLY" person add --from people.csv
expect 0 '38 events added' "$BENCHTALLY" import plain.csv
for file in quoted marked old-line-ends empty-rows empty-columns blanks hours; do
  expect 0 ' 0 events added .*38 events in 1 observation already there' "$BENCHTALLY" import $file.csv
done
before=$(dump book.db)
expect 2 'separated by semicolons; save the file as CSV with commas' "$BENCHTALLY" import semicolons.csv
expect 2 'separated by tabs' "$BENCHTALLY" import tabs.txt
expect 2 'UTF-16; save the file as UTF-8' "$BENCHTALLY" import unicode.txt
expect 2 'day-times.csv:2:[0-9]+: time: "12:00:00 AM" is no time' "$BENCHTALLY" import day-times.csv
expect 2 "time: \"'0:00\" is no time" "$BENCHTALLY" import apostrophe.csv
expect 2 'started: "2/11/2026 13:15" is no date' "$BENCHTALLY" import dates.csv
expect 2 'is "Session" meant to be it' "$BENCHTALLY" import capitals.csv
expect 2 'did you mean "arch-bars"' "$BENCHTALLY" import upper-rubric.csv
# A fault that stands on every row is told once, with its lines.
sed 's/,LK-01,/,LK-77,/; s/larkfield-04/larkfield-77/' plain.csv >stranger.csv
for i in 78 79 80; do tail -n +2 stranger.csv | sed "s/larkfield-77/larkfield-$i/"; done >>stranger.csv
expect 2 'stranger.csv:2: .*LK-77.* \(also on lines [0-9]+, [0-9]+, [0-9]+\)$' "$BENCHTALLY" import stranger.csv
[ "$(grep -c 'LK-77' "$WORK/err")" -eq 1 ] || complain "one unknown trainee is told more than once: $(cat "$WORK/err")"
[ "$(dump book.db)" = "$before" ] || complain "a refused file changed the book"

# --book stands before the command or after it, and must name something; verify takes a file.
expect 0 'copied and checked' "$BENCHTALLY" backup "copy of the böök.db"
expect 0 'every record holds' "$BENCHTALLY" verify --book "copy of the böök.db"
expect 0 'copy of the böök.db: every record holds' "$BENCHTALLY" verify "copy of the böök.db"
expect 0 'larkfield-04' "$BENCHTALLY" --book "copy of the böök.db" sessions
expect 2 '^benchtally: --book needs a file name$' "$BENCHTALLY" --book '' sessions
expect 2 '^benchtally: --book needs a file name$' "$BENCHTALLY" sessions --book=
expect 2 'no such book; check the name' "$BENCHTALLY" sessions --book none.db
[ ! -e none.db ] || complain "a command that reads made a book"
finish
