# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads a director's workbook that was made for sharing: nobody is named in any part of it, no small count stands, and
from what stands no hidden one can be worked out.

usage: cohort_shared.py FOLDER WORKBOOK LEAST RUBRIC...
"""
import itertools
import sys
import warnings
import zipfile

import openpyxl

from cohort_data import Data
from workbook_reader import complain, faults, rows_of, same

WITHHELD = "not shown"
hidden_seen = {"Overview": 0, "Checkpoints": 0, "Errors": 0, "Standards": 0}


def check_nobody(path, data):
    """No code, no name and no session in any part of the package."""
    words = {code for code in data.people} | {p["name"] for p in data.people.values() if p["name"]}
    words |= {s.row["session"] for s in data.sessions}
    with zipfile.ZipFile(path) as package:
        for part in package.namelist():
            text = package.read(part).decode("utf-8", "replace")
            for word in words:
                if word in text:
                    complain(part, "names", word)


def possible_lines(cells, total, least):
    """Every line of whole numbers that reads as these cells do and adds up to the total."""
    ranges = [[c] if isinstance(c, (int, float)) else range(1, least) if c != WITHHELD else range(total + 1)
              for c in cells[:-1]]
    for line in itertools.product(*ranges):
        rest = total - sum(line)
        last = cells[-1]
        if rest < 0 or (isinstance(last, (int, float)) and rest != last):
            continue
        if not isinstance(last, (int, float)) and last != WITHHELD and not 0 < rest < least:
            continue
        yield line + (rest,)


def check_line(where, cells, total, truth, least):
    """`cells` and `total` as they read, `truth` as it is. Whether all of it stands."""
    small = f"fewer than {least}"
    for cell, count in zip(list(cells) + [total], list(truth) + [sum(truth)]):
        if cell == small:
            if not 0 < count < least and not 0 < sum(truth) < least:
                complain(where, "calls", count, cell)
        elif cell != WITHHELD:
            same(where, cell, count)
            if 0 < count < least:
                complain(where, "shows the small count", count)
    hidden = [i for i, cell in enumerate(cells) if not isinstance(cell, (int, float))]
    hidden_seen[where.split(":")[0]] += len(hidden)
    if not hidden or not isinstance(total, (int, float)):
        return not hidden and total != small
    lines = list(possible_lines(list(cells), int(total), least))
    if tuple(truth) not in lines:
        complain(where, "cannot be what it is:", cells, truth)
    for i in hidden:
        if len({line[i] for line in lines}) < 2:
            complain(where, "gives away", truth[i], "of", cells, total)
    together = sum(truth[i] for i in hidden)
    if 0 < together < least:
        complain(where, "gives away that", together, "are hidden together")
    return False


def hides(where, row, names, stands):
    """What is made from hidden counts is hidden too."""
    for name in names:
        if not stands and isinstance(row[name], (int, float)):
            complain(where, name, "stands although its counts do not:", row[name])


def check_states(sheet, data, least):
    rows = rows_of(sheet, "States")
    same("Overview: rows", len(rows), len(data.exercises))
    for row, exercise in zip(rows, data.exercises):
        outcomes = [s.outcome for s in data.latest_of_all(exercise)]
        truth = [outcomes.count(o) for o in ("pass", "not_yet", "undecided")]
        check_line(f"Overview: {exercise}", [row[n] for n in ("Pass", "Not yet", "Undecided")], row["Trainees"], truth, least)


def check_checkpoints(sheet, data, least):
    rows = rows_of(sheet, "Checkpoints")
    for exercise in data.exercises:
        rubric, sessions = data.rubrics[exercise], data.of(exercise)
        for checkpoint in rubric.checkpoints:
            row = next(r for r in rows if (r["Exercise"], r["Checkpoint"]) == (rubric.title, checkpoint["title"]))
            where = f"Checkpoints: {exercise} {checkpoint['id']}"
            states = [s.step(checkpoint)[0] for s in sessions]
            truth = [states.count(w) for w in ("done", "not done", "not seen", "out")]
            check_line(where, [row[n] for n in ("Done", "Not done", "Not seen", "Did not count")], row["Sessions"], truth, least)
            stands = isinstance(row["Done"], (int, float)) and isinstance(row["Not done"], (int, float))
            hides(where, row, ("Done, %", "Done from", "Done to", "Difficulty"), stands)
            hides(where, row, ("Trainees",), False)
            values = [v for v in (s.step(checkpoint)[1] for s in data.latest_of_all(exercise)) if v is not None]
            if isinstance(row["Difficulty"], (int, float)) and 0 < round(sum(values)) < least:
                complain(where, "shows the difficulty of", values)


def check_errors(sheet, data, least):
    rows = rows_of(sheet, "Errors")
    for exercise in data.exercises:
        rubric, sessions = data.rubrics[exercise], data.of(exercise)
        for kind in rubric.errors:
            row = next(r for r in rows if (r["Exercise"], r["Kind of error"]) == (rubric.title, kind["title"]))
            where, found = f"Errors: {exercise} {kind['id']}", [s.found(kind) for s in sessions]
            truth = [sum(n is not None and n > 0 for n in found), found.count(0), found.count(None)]
            cells = [row[n] for n in ("Sessions with it", "Sessions without", "Not assessed")]
            check_line(where, cells, row["Sessions"], truth, least)
            stands = all(isinstance(cell, (int, float)) for cell in cells[:2])
            hides(where, row, ("Found", "Found a session", "Rate from", "Rate to", "With it, %", "With it from",
                               "With it to"), stands)


def check_standards(sheet, data, least):
    for row in rows_of(sheet, "Standards"):
        names = ("Stays pass", "Stays not yet", "To not yet", "To pass", "Decided", "Held all the same", "Doubtful")
        for name in names:
            if isinstance(row[name], (int, float)) and 0 < row[name] < least:
                complain("Standards:", row["Exercise"], row["Standard"], name, "shows", row[name])
        hidden_seen["Standards"] += sum(row[name] in (WITHHELD, f"fewer than {least}") for name in names)
        stands = all(isinstance(row[name], (int, float)) for name in names[:6])
        hides(f"Standards: {row['Exercise']}", row, ("At or above, %", "At or above, from", "At or above, to"), stands)


def check_the_rest(book, data, least):
    for table, sheet in (("Heat", "Heat"), ("Attempts", "Curves")):
        for row in rows_of(book[sheet], table):
            if row["Trainees"] not in (f"fewer than {least}", f"{least} or more"):
                complain(sheet, "tells how many:", row["Trainees"])
            figures = [v for name, v in row.items() if "quarter" in name or "Median" in name]
            if row["Trainees"] == f"fewer than {least}" and any(v not in (None, "") for v in figures):
                complain(sheet, "shows figures of too few:", row)
    same("Curves: tables", list(book["Curves"].tables), ["Attempts"])
    same("Assessors: tables", list(book["Assessors"].tables), ["Agreement"])
    text = " ".join(str(c.value) for row in book["Methods"].iter_rows() for c in row)
    if f'Counts from 1 to {least - 1} read "fewer than {least}"' not in text:
        complain("Methods does not state the rule")
    if "none shown alone" not in str(book["Overview"]["A2"].value) or "fewer than" not in str(book["Overview"]["A3"].value):
        complain("Overview does not state the rule")


def main():
    warnings.simplefilter("error")
    folder, path, least, rubrics = sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4:]
    data, book = Data(folder, rubrics), openpyxl.load_workbook(path)
    check_nobody(path, data)
    check_states(book["Overview"], data, least)
    check_checkpoints(book["Checkpoints"], data, least)
    check_errors(book["Errors"], data, least)
    check_standards(book["Standards"], data, least)
    check_the_rest(book, data, least)
    for fault in faults[:40]:
        print(fault)
    print(f"hidden at {least}: {hidden_seen}; {len(faults)} faults")
    return 1 if faults or not hidden_seen["Checkpoints"] or not hidden_seen["Errors"] else 0


if __name__ == "__main__":
    sys.exit(main())
