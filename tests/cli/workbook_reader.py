# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads progress workbooks with openpyxl and compares every number with `score --json`.

usage: workbook_reader.py SESSIONS_JSON SCORES_JSON RUBRICS_JSON WORKBOOK...
"""
import datetime
import json
import os
import statistics
import sys
import warnings
from fractions import Fraction

import openpyxl

SHEETS = ["Summary", "Progress", "Sessions", "Latest ledger", "Timeline", "Errors", "Corrections",
          "About this record"]
PARTS = ["steps", "order", "time", "technique", "product", "rating"]
faults = []


def complain(*words):
    faults.append(" ".join(str(word) for word in words))


def same(where, got, wanted):
    if got != wanted:
        complain(where, "is", repr(got), "and should be", repr(wanted))


def cut(fraction):
    """A fraction of 1 as a percentage cut to one decimal; None stays None."""
    return None if fraction is None else (fraction * 1000).__floor__() / 10


def part_percent(part):
    if not part["assessed"] or not part["possible"]:
        return None
    return cut(Fraction(part["given"], part["possible"]))


def total_percent(score):
    return None if score["total"] is None else cut(Fraction(score["total"]))


def milliseconds(value):
    """What a cell with a form for durations holds: openpyxl makes times or spans of it."""
    if value is None or value == "":
        return None
    if isinstance(value, datetime.timedelta):
        return round(value.total_seconds() * 1000)
    if isinstance(value, datetime.datetime):  # a day number counted from 1899-12-30
        return round((value - datetime.datetime(1899, 12, 30)).total_seconds() * 1000)
    if isinstance(value, datetime.time):
        return (((value.hour * 60) + value.minute) * 60 + value.second) * 1000 + round(value.microsecond / 1000)
    return round(value * 86400000)


def rows_of(sheet, table):
    """The rows of a table as dictionaries by column name, empty rows left out."""
    first, *rest = sheet[sheet.tables[table].ref]
    names = [cell.value for cell in first]
    return [dict(zip(names, (cell.value for cell in row))) for row in rest
            if any(cell.value not in (None, "") for cell in row)]


# Structure --------------------------------------------------------------------

def check_sheet(name, sheet, least_scale=None):
    if sheet.merged_cells.ranges:
        complain(name, "has merged cells")
    for row in sheet.iter_rows():
        for cell in row:
            if cell.data_type == "f":
                complain(name, cell.coordinate, "is a formula")
    for table in sheet.tables.values():
        heads = [cell.value for cell in sheet[table.ref][0]]
        same(f"{name}: columns of table {table.name}", [c.name for c in table.tableColumns], heads)
        if table.autoFilter is None:
            complain(name, "table", table.name, "has no filter")
    fits = sheet.sheet_properties.pageSetUpPr and sheet.sheet_properties.pageSetUpPr.fitToPage
    if least_scale is None or fits:  # else over pages side by side, no smaller than that
        same(f"{name}: fits a page's width", fits, True)
    elif not least_scale <= sheet.page_setup.scale <= 100:
        complain(name, "prints at", sheet.page_setup.scale, "percent, expected", least_scale, "or more")
    same(f"{name}: paper", int(sheet.page_setup.paperSize), 9)


def check_structure(path, book):
    same(f"{path}: sheets", book.sheetnames, SHEETS)
    for name in SHEETS:
        check_sheet(f"{path}: {name}", book[name])
    for name, header in (("Sessions", 4), ("Latest ledger", 4), ("Errors", 4), ("Corrections", 4)):
        same(f"{path}: {name}: frozen", book[name].freeze_panes, f"A{header + 1}")
        same(f"{path}: {name}: repeated rows", book[name].print_title_rows, f"${header}:${header}")
    same(f"{path}: Summary: pages high", book["Summary"].page_setup.fitToHeight or 1, 1)
    names = [table for sheet in book for table in sheet.tables]
    same(f"{path}: names of tables", len(names), len(set(names)))


# Numbers ----------------------------------------------------------------------

def check_sessions(path, sheet, mine, scores):
    rows = rows_of(sheet, "Sessions")
    same(f"{path}: sessions", sorted(row["Session"] for row in rows),
         sorted(row["session"] for row in mine))
    by_name = {row["Session"]: row for row in rows}
    for session in mine:
        row, score = by_name[session["session"]], scores[key(session)]
        where = f"{path}: {session['session']}"
        same(where + " total", row["Total %"], total_percent(score))
        for part in PARTS:
            same(where + " " + part, row[part.capitalize() + " %"], part_percent(score[part]))
        same(where + " clock", milliseconds(row["Clock"]), score["time"]["total_ms"])
        for column, field in (("Attempt", "attempt"), ("Edition", "edition"), ("Events", "events"),
                              ("Corrections", "corrections"), ("Receipt", "receipt"), ("Mode", "mode")):
            same(where + " " + column, row[column], session[field])
        word = {"pass": "\u25cf Pass", "not_yet": "\u25cb Not yet", "undecided": "\u25d0 Undecided"}
        same(where + " outcome", row["Outcome"], word[score["outcome"]])


def points(value, possible):
    return (None, None) if not value and not possible else (value / 1000, possible / 1000)


def wanted_ledger(score):
    """(part, key in rubric, given, possible or None where JSON does not say) of every row."""
    for row in score["steps"]["rows"]:
        yield "Steps", row["id"], row["given"], row["points"] if row["in_score"] else 0
    for row in score["order"]["rows"]:
        yield "Order", row["id"], row["given"], row["lose"] if row["applies"] else 0
    for row in score["time"]["rows"]:
        yield "Time", row["id"], row["given"], row["points"]
    for row in score["technique"]["rows"]:
        yield "Technique", row["id"], -row["lost"], 0
    for part in ("product", "rating"):
        for row in score[part]["rows"]:
            yield part.capitalize(), row["id"], row["given"], None


def check_ledger(path, rows, titles, latest, scores):
    for session in latest:
        score, where = scores[key(session)], f"{path}: ledger of {session['session']}"
        mine = {(row["Part"], row["Key in rubric"]): row for row in rows
                if row["Exercise"] == titles[session["rubric"], session["edition"]]}
        stake = mine.pop(("Technique", "technique"), None)
        if stake:
            same(where + " at stake", stake["Given"], score["technique"]["at_stake"] / 1000)
        wanted = list(wanted_ledger(score))
        same(where + " rows", {name for name in mine if name[0] != "Also noted"},
             {name[:2] for name in wanted})
        for part, name, given, possible in wanted:
            row = mine.get((part, name), {})
            if possible is not None:
                same(f"{where} {name}", (row.get("Given"), row.get("Possible")), points(given, possible))
            else:
                same(f"{where} {name}", row.get("Given") or 0, given / 1000)
        sums = {"Steps": "steps", "Order": "order", "Time": "time", "Product": "product", "Rating": "rating"}
        for part, field in sums.items():
            given = sum(Fraction(str(row["Given"] or 0)) for name, row in mine.items() if name[0] == part)
            same(f"{where} sum of {part}", given * 1000, score[field]["given"])


def check_errors(path, rows, mine, scores):
    got = {(row["Session"], row["Severity"], row["Found"], row["Points lost"]) for row in rows if row["Session"]}
    wanted = set()
    for session in mine:
        for row in scores[key(session)]["technique"]["rows"]:
            if row["count"]:
                wanted.add((session["session"], row["severity"], row["count"], row["lost"] / 1000))
    same(f"{path}: errors", got, wanted)
    same(f"{path}: errors found", sum(row["Found"] for row in rows if row["Session"]),
         sum(row["count"] for s in mine for row in scores[key(s)]["technique"]["rows"]))


def check_timeline(path, rows, newest, scores):
    score = scores[key(newest)]
    marked = {row["Event"] for row in rows if row["Order"]}
    wanted = {row["event"] for row in score["order"]["displaced"]}
    wanted |= {row["then_event"] for row in score["order"]["rows"] if row["broken"]}
    same(f"{path}: timeline: out of order", marked, wanted)
    for row in score["order"]["displaced"]:
        word = next(r["Order"] for r in rows if r["Event"] == row["event"])
        same(f"{path}: event {row['event']}", word, row["where"].replace("_", " "))
    same(f"{path}: timeline: events", len(rows), newest["events"])
    times = [milliseconds(row["At"]) for row in rows]
    same(f"{path}: timeline in order of time", times, sorted(times))


def figure_rows(sheet, title, header):
    """The rows below the header `header` in the block of the exercise `title`."""
    at = next(row for row in range(1, sheet.max_row + 1) if sheet.cell(row, 1).value == title)
    while sheet.cell(at, 2).value != header:
        at += 1
    names = [cell.value for cell in sheet[at] if cell.value]
    rows = []
    while isinstance(sheet.cell(at + 1, 1).value, (int, float)):
        at += 1
        rows.append(dict(zip(names, (sheet.cell(at, i + 1).value for i in range(len(names))))))
    return rows


def others_at(session, sessions, scores):
    totals = [Fraction(scores[key(other)]["total"]) for other in sessions
              if other["rubric"] == session["rubric"] and other["attempt"] == session["attempt"]
              and other["trainee"] != session["trainee"] and scores[key(other)]["total"] is not None]
    # The book keeps a total in thousandths of a percent, cut.
    return [(total * 100000).__floor__() for total in totals]


def check_progress(path, sheet, titles, mine, sessions, scores):
    for rubric in {session["rubric"] for session in mine}:
        attempts = sorted((s for s in mine if s["rubric"] == rubric), key=lambda s: s["attempt"])
        title = titles[rubric, attempts[-1]["edition"]]
        rows = figure_rows(sheet, title, "Date")
        minutes = figure_rows(sheet, title, "Clock, min")
        same(f"{path}: {rubric}: attempts", [row["Attempt"] for row in rows], [s["attempt"] for s in attempts])
        for session, row, spent in zip(attempts, rows, minutes):
            score, where = scores[key(session)], f"{path}: {rubric} attempt {session['attempt']}"
            same(where + " total", row["Total %"], total_percent(score))
            for part in PARTS:
                same(where + " " + part, row[part.capitalize() + " %"], part_percent(score[part]))
            same(where + " clock", round(spent["Clock, min"] * 60000), score["time"]["total_ms"])
            charged = [round(value * 60000) for name, value in list(spent.items())[2:]]
            same(where + " phases", sorted(charged), sorted(score["time"]["charged"].values()))
            others = others_at(session, sessions, scores)
            if len(others) < 4:
                same(where + " others", row["Others (n)"], "too few")
                continue
            low, _, high = statistics.quantiles(others, n=4, method="inclusive")
            same(where + " others", row["Others (n)"], len(others))
            for column, exact in (("Others from", low), ("Others to", high)):
                # Quartiles are rounded to thousandths, then cut to tenths for the eye.
                same(where + " " + column, row[column], int(exact + 0.5) // 100 / 10)


def key(session):
    return session["session"], session["assessor"], session["mode"]


def check_workbook(path, sessions, scores, titles):
    book = openpyxl.load_workbook(path)
    trainee = os.path.splitext(os.path.basename(path))[0]
    mine = [session for session in sessions if session["trainee"] == trainee]
    latest = {}
    for session in sorted(mine, key=lambda s: s["started"]):
        latest[session["rubric"]] = session
    newest = max(mine, key=lambda s: s["started"])
    check_structure(path, book)
    check_sessions(path, book["Sessions"], mine, scores)
    check_ledger(path, rows_of(book["Latest ledger"], "Ledger"), titles, latest.values(), scores)
    check_errors(path, rows_of(book["Errors"], "Errors"), mine, scores)
    check_timeline(path, rows_of(book["Timeline"], "Timeline"), newest, scores)
    check_progress(path, book["Progress"], titles, mine, sessions, scores)
    with_errors = {s["rubric"] for s in mine
                   if any(row["count"] for row in scores[key(s)]["technique"]["rows"])}
    same(f"{path}: charts of Progress", len(book["Progress"]._charts), 3 * len(latest) + len(with_errors))
    same(f"{path}: charts of Timeline", len(book["Timeline"]._charts), 1)
    summary = {row["Exercise"]: row for row in rows_of(book["Summary"], "Outcomes")}
    for session in latest.values():
        row = summary[titles[session["rubric"], session["edition"]]]
        same(f"{path}: Summary {session['rubric']}", row["Total %"], total_percent(scores[key(session)]))
        same(f"{path}: Summary attempts", row["Attempts"], session["attempt"])


def main():
    warnings.simplefilter("error")
    with open(sys.argv[1], encoding="utf-8") as file:
        sessions = [row for row in json.load(file) if row["of_record"] and row["closed"]]
    with open(sys.argv[2], encoding="utf-8") as file:
        scores = {key(score): score for score in json.load(file)}
    with open(sys.argv[3], encoding="utf-8") as file:
        titles = {(row["rubric"], row["edition"]): row["title"] for row in json.load(file)}
    for path in sys.argv[4:]:
        check_workbook(path, sessions, scores, titles)
    for fault in faults[:40]:
        print(fault)
    if len(faults) > 40:
        print("and", len(faults) - 40, "more")
    print(len(sys.argv) - 4, "workbooks read,", len(faults), "faults")
    return 1 if faults or len(sys.argv) < 5 else 0


if __name__ == "__main__":
    sys.exit(main())
