#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Section 1 of the scoring law: drawn logs are imported, corrected, and scored from the book.

    corrections.py COMMAND FIRST_SEED SEEDS

The oracle scores the same rows without those struck, and a replacement in the place of what it
replaces.
"""
import csv
import io
import json
import os
import random
import subprocess
import sys

sys.dont_write_bytecode = True

from compare import difference          # noqa: E402
from generate import generate           # noqa: E402
from oracle import score_file           # noqa: E402
from random_log import HEAD, value_anyhow   # noqa: E402
from reading import BUILT_IN, read_rubric   # noqa: E402

OBSERVATIONS = 3
CORRECTIONS = 4


class Book:
    """The command over one book."""

    def __init__(self, command, path):
        self.command, self.path = command, path

    def run(self, *arguments):
        done = subprocess.run([self.command, "--book", self.path, *arguments],
                              capture_output=True, text=True, check=False)
        if done.returncode:
            sys.exit(f"{' '.join(arguments)}: status {done.returncode}: {done.stderr}")
        return done.stdout


def put(name, text):
    with open(name, "w", encoding="utf-8", newline="") as file:
        file.write(text)
    return name


def rows_text(rows):
    out = io.StringIO()
    writer = csv.DictWriter(out, HEAD, lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def numbered(rows):
    """(session, assessor, mode, number) of every row."""
    found, count = [], {}
    for row in rows:
        key = (row["session"], row["assessor"], row["mode"])
        count[key] = count.get(key, 0) + 1
        found.append((*key, count[key]))
    return found


def amendment(dice, rubric, row):
    """Columns to change in a row of work, or another time for any row."""
    details = rubric.details.get(row["action"], {})
    if details and dice.random() < 0.7:
        name = dice.choice(list(details))
        return {name: dice.choice(["", value_anyhow(dice, name)])}
    if row["action"] not in BUILT_IN and dice.random() < 0.3:
        return {"site": ""}
    return {"time": f"0:{dice.randrange(60):02d}"}


def correct(book, dice, rubric, rows):
    """Strikes and amends some rows, in the book and in `rows`; returns those struck."""
    names, struck = numbered(rows), set()
    for place in dice.sample(range(len(rows)), min(len(rows), CORRECTIONS)):
        session, assessor, mode, number = names[place]
        which = ["--assessor", assessor, "--mode", mode, "--reason", "drawn by lot", "--by", "d1"]
        if dice.random() < 0.5:
            book.run("strike", *which, session, str(number))
            struck.add(names[place])
            continue
        for _ in range(dice.choice([1, 1, 2])):
            for name, value in amendment(dice, rubric, rows[place]).items():
                change = [f"--{name}", value] if name in ("time", "site") \
                    else ["--detail", f"{name}={value}"]
                book.run("amend", *which, *change, session, str(number))
                rows[place][name] = value
    return struck


def find_difference(book, seed):
    dice = random.Random(seed)
    text, events = generate(seed, OBSERVATIONS)
    rubric_path = put("rubric.yaml", text)
    rows = list(csv.DictReader(io.StringIO(events)))
    for row in rows:
        row["session"] = f"{seed}-{row['session']}"
    book.run("rubric", "add", rubric_path)
    book.run("import", put("events.csv", rows_text(rows)))
    struck = correct(book, dice, read_rubric(rubric_path), rows)
    ours = score_file(rubric_path, put("corrected.csv", rows_text(rows)), struck)
    theirs = [one for session in sorted({row["session"] for row in rows})
              for one in json.loads(book.run("score", "--json", session))]

    def by_name(scored):
        return {f"{one['session']} {one['assessor']} {one['mode']}": one
                for one in json.loads(json.dumps(scored))}
    return difference(by_name(ours), by_name(theirs)), len(ours)


def main(command, first, seeds):
    book = Book(command, os.path.abspath("corrections.db"))
    people = ["code,name,role,level,cohort"]
    people += [f"t{number},,trainee,," for number in (1, 2)]
    people += [f"a{number},,assessor,," for number in (1, 2)] + ["d1,,director,,"]
    book.run("person", "add", "--from", put("people.csv", "\n".join(people) + "\n"))
    compared = 0
    for seed in range(first, first + seeds):
        path, count = find_difference(book, seed)
        compared += count
        if path:
            print(f"seed {seed}: the oracle against the book, after corrections: {path}")
            for name in ("rubric.yaml", "corrected.csv"):
                with open(name, encoding="utf-8") as file:
                    print(f"--- {name}\n{file.read()}")
            return 1
    print(f"{seeds} corrected logs, {compared} observations compared")
    return 0 if compared else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3])))
