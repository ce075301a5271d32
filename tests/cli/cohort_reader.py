# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads the director's workbook with openpyxl and compares every number with what comes of `score --json` by other ways,
or, where a statistic has a command of its own, with what that command says with every digit.

usage: cohort_reader.py FOLDER WORKBOOK RUBRIC...   (FOLDER holds sessions.json, scores.json, people.json,
standards.json, and of each exercise agreement-ID.json, reliability-ID.json and curve-ID.json)
"""
import json
import os
import sys
import warnings
from fractions import Fraction

import openpyxl

import cohort_figures as figures
from cohort_data import MARK, Data, load
from workbook_reader import check_sheet, complain, cut, faults, rows_of, same

SHEETS = ["Overview", "Heat", "Checkpoints", "Errors", "Assessors", "Standards", "Curves", "Methods"]
TABLES = {"Overview": ["Overview", "States"], "Heat": ["Heat"], "Checkpoints": ["Checkpoints"], "Errors": ["Errors"],
          "Assessors": ["Assessors", "Agreement"], "Standards": ["Standards"], "Curves": ["Attempts", "Trainees"],
          "Methods": ["Methods", "Not_estimated"]}
counted = 0  # numbers that were compared


def near(where, got, wanted, digits=9):
    """Two floating-point numbers, to so many significant digits; None is an empty cell."""
    global counted
    counted += 1
    if got in (None, "") or wanted is None:
        return same(where, got if got != "" else None, wanted)
    if not isinstance(got, (int, float)) or abs(got - wanted) > 10 ** -digits * max(1, abs(wanted)):
        complain(where, "is", repr(got), "and should be", repr(wanted))


def exact(where, got, wanted):
    global counted
    counted += 1
    same(where, got if got != "" else None, wanted)


def triple(where, row, names, wanted, scale=1, digits=9):
    """A figure and its limits; `wanted` may be None."""
    for name, value in zip(names, wanted or (None, None, None)):
        near(f"{where} {name}", row[name], None if value is None else value * scale, digits)


def shown(milli):
    """Thousandths of a percent cut to tenths; below 0: empty."""
    return None if milli < 0 else milli // 100 / 10


def of_json(figure):
    """A figure of --json as (value, low, high)."""
    return figure["value"], figure.get("low"), figure.get("high")


# Overview ---------------------------------------------------------------------

def state(data, trainee, exercise):
    latest = data.latest(trainee, exercise)
    if latest is None:
        return None
    n = sum(s.rubric.id == exercise for s in data.by_trainee[trainee])
    total = "-" if latest.total < 0 else f"{latest.total // 100 // 10}.{latest.total // 100 % 10}"
    return f"{MARK[latest.outcome]}, {total} ({n})"


def pressing(session):
    return 3 if session.held else {"not_yet": 2, "undecided": 1, "pass": 0}[session.outcome]


def check_needs(where, words, data, trainee):
    latest = [s for s in (data.latest(trainee, e) for e in data.exercises) if s and pressing(s)]
    if not latest:
        return exact(where, words, "At the standard in every exercise tried.")
    worst = max(latest, key=lambda s: (pressing(s), s.rubric.pass_milli - s.total))
    if not words.startswith(worst.rubric.title + ": "):
        complain(where, "speaks of", words[:40], "and should of", worst.rubric.title)
    shares = []
    for competency in worst.rubric.competencies:
        _, given, possible, _ = worst.competency(worst.rubric.sources(competency))
        if possible:
            shares.append((Fraction(given, possible), competency["title"]))
    if shares:
        share, title = min(shares, key=lambda s: s[0])
        if f"Weakest there: {title}, {cut(share)} %." not in words:
            complain(where, "does not name the weakest competency:", title, cut(share))


def check_overview(sheet, data):
    rows = rows_of(sheet, "Overview")
    wanted = sorted(data.by_trainee, key=data.need)
    exact("Overview: trainees by need", [row["Trainee"] for row in rows], wanted)
    last_day = max(s.started for s in data.sessions).date()
    for row in rows:
        trainee = row["Trainee"]
        mine, where = data.by_trainee[trainee], f"Overview: {trainee}"
        exact(where + " name", row["Name"], data.people[trainee]["name"])
        exact(where + " sessions", row["Sessions"], len(mine))
        exact(where + " last", row["Last session"].date(), mine[-1].started.date())
        exact(where + " days", row["Days since"], (last_day - mine[-1].started.date()).days)
        exact(where + " last total", row["Last %"], shown(mine[-1].total))
        exact(where + " best total", row["Best %"], shown(max(s.total for s in mine)))
        groups = [[(s.attempt, s.total / 1000) for s in mine if s.rubric.id == e and s.total >= 0] for e in data.exercises]
        slope = figures.trend(groups)
        triple(where, row, ("Trend, % an attempt", "Trend from", "Trend to"), slope, digits=7)
        word = ("not estimable" if slope is None else "too few for limits" if slope[1] is None else
                "rising" if slope[1] > 0 else "falling" if slope[2] < 0 else "not clear")
        exact(where + " trend", row["Trend"], word)
        for exercise in data.exercises:
            exact(f"{where} {exercise}", row[data.rubrics[exercise].title], state(data, trainee, exercise))
        check_needs(where + " needs", row["Needs"], data, trainee)
    for row, exercise in zip(rows_of(sheet, "States"), data.exercises):
        outcomes = [s.outcome for s in data.latest_of_all(exercise)]
        got = [row[name] for name in ("Exercise", "Pass", "Not yet", "Undecided", "Trainees")]
        exact(f"Overview: states of {exercise}", got, [data.rubrics[exercise].title] + [
            outcomes.count(o) for o in ("pass", "not_yet", "undecided")] + [len(outcomes)])


# Heat -------------------------------------------------------------------------

def competencies_of(data):
    found = {}
    for exercise in data.exercises:
        for competency in data.rubrics[exercise].competencies:
            found.setdefault(competency["id"], competency["title"])
    return found


def competency_of(data, trainee, name):
    """(assessed, percent cut or None, errors) over the latest sessions."""
    seen, given, possible, errors = False, 0, 0, 0
    for exercise in data.exercises:
        latest = data.latest(trainee, exercise)
        for competency in latest.rubric.competencies if latest else []:
            if competency["id"] == name:
                part = latest.competency(latest.rubric.sources(competency))
                seen, given, possible, errors = (seen or part[0], given + part[1], possible + part[2], errors + part[3])
    return seen, None if not possible else Fraction(given, possible), errors


def check_heat(sheet, data):
    table = sheet.tables["Heat"].ref
    heads = [cell.value for cell in sheet[table][0]]
    rows = list(sheet[table])[1:]
    exact("Heat: trainees", [row[0].value for row in rows], sorted(data.by_trainee, key=data.need))
    for column, (name, title) in enumerate(competencies_of(data).items(), 2):
        exact(f"Heat: header {column}", heads[column], title + ", %")
        percents = []
        for row in rows:
            seen, share, errors = competency_of(data, row[0].value, name)
            where = f"Heat: {row[0].value} {name}"
            if share is None:
                text = f"{errors} error{'' if errors == 1 else 's'}" if seen else None
                exact(where, row[column].value or None, text)
                continue
            exact(where, row[column].value, cut(share))
            percents.append((share * 1000).__floor__() * 100)
            shade = {3: None, 2: "FFF3E9DA", 1: "FFE3C79C", 0: "FFC99A55"}[min(max(int(share * 5) - 1, 0), 3)]
            fill = row[column].fill
            exact(where + " shade", fill.fgColor.rgb if fill.fill_type == "solid" else None, shade)
        median = shown(figures.quartile(percents, 2)) if percents else None
        exact(f"Heat: median of {name}", sheet.cell(4, column + 1).value, median)


# Checkpoints ------------------------------------------------------------------

def check_checkpoints(sheet, data):
    rows = rows_of(sheet, "Checkpoints")
    exact("Checkpoints: rows", len(rows), sum(len(data.rubrics[e].checkpoints) for e in data.exercises))
    for exercise in data.exercises:
        rubric, sessions, latest = data.rubrics[exercise], data.of(exercise), data.latest_of_all(exercise)
        mine = [row for row in rows if row["Exercise"] == rubric.title]
        table = [[s.step(c)[1] for c in rubric.checkpoints] for s in latest]
        shares = []
        for index, checkpoint in enumerate(rubric.checkpoints):
            row = next(r for r in mine if r["Checkpoint"] == checkpoint["title"])
            where = f"Checkpoints: {exercise} {checkpoint['id']}"
            states = [s.step(checkpoint)[0] for s in sessions]
            counts = [states.count(w) for w in ("done", "not done", "not seen", "out")]
            got = [row[name] for name in ("Done", "Not done", "Not seen", "Did not count", "Sessions")]
            exact(where, got, counts + [len(sessions)])
            share = figures.wilson(counts[0], counts[0] + counts[1])
            triple(where, row, ("Done, %", "Done from", "Done to"), share, 100)
            values = [line[index] for line in table if line[index] is not None]
            near(where + " difficulty", row["Difficulty"], figures.mean(values))
            exact(where + " trainees", row["Trainees"], len(values))
            found = figures.discrimination(table, index)
            triple(where, row, ("Discrimi\u00adnation", "Discr. from", "Discr. to"), found, digits=7)
            exact(where + " critical", bool(row["Critical"]), checkpoint.get("critical", "no") != "no")
        shares = [row["Done, %"] for row in mine if row["Done, %"] is not None]
        exact(f"Checkpoints: {exercise}: least done first", shares, sorted(shares))


# Errors -----------------------------------------------------------------------

def check_errors(sheet, data):
    rows = rows_of(sheet, "Errors")
    exact("Errors: rows", len(rows), sum(len(data.rubrics[e].errors) for e in data.exercises))
    for exercise in data.exercises:
        rubric, sessions = data.rubrics[exercise], data.of(exercise)
        mine = [row for row in rows if row["Exercise"] == rubric.title]
        for kind in rubric.errors:
            row = next(r for r in mine if r["Kind of error"] == kind["title"])
            where, found = f"Errors: {exercise} {kind['id']}", [s.found(kind) for s in sessions]
            assessed = [n for n in found if n is not None]
            share = [sum(n > 0 for n in assessed), sum(n == 0 for n in assessed), found.count(None), len(found)]
            got = [row[name] for name in ("Sessions with it", "Sessions without", "Not assessed", "Sessions")]
            exact(where, got, share)
            exact(where + " found", row["Found"], sum(assessed))
            triple(where, row, ("Found a session", "Rate from", "Rate to"), figures.rate(sum(assessed), len(assessed)))
            triple(where, row, ("With it, %", "With it from", "With it to"), figures.wilson(share[0], len(assessed)), 100)
            exact(where + " severity", row["Severity"], kind["severity"])
        order = [(["critical", "major", "minor"].index(r["Severity"]), -(r["Found a session"] or 0)) for r in mine]
        exact(f"Errors: {exercise}: critical ones first", order, sorted(order))


# Assessors --------------------------------------------------------------------

def check_assessors(sheet, data, folder):
    rows = rows_of(sheet, "Assessors")
    agreed = rows_of(sheet, "Agreement")
    exact("Assessors: rows of agreement", len(agreed), 3 * len(data.exercises))
    for exercise in data.exercises:
        title = data.rubrics[exercise].title
        told = {one["assessor"]: one for one in load(f"{folder}/reliability-{exercise}.json")["severity"]["assessors"]}
        seen = [r for r in data.observations if r["rubric"] == exercise and r["mode"] != "self"]
        mine = {row["Assessor"]: row for row in rows if row["Exercise"] == title}
        codes = sorted({r["assessor"] for r in seen})
        exact(f"Assessors: {exercise}", sorted(mine), sorted(f"{data.people[c]['name']} ({c})" for c in codes))
        for code in codes:
            row, where = mine[f"{data.people[code]['name']} ({code})"], f"Assessors: {exercise} {code}"
            own = [r for r in seen if r["assessor"] == code]
            got = [row[name] for name in ("Observed", "Of record", "Live", "Video")]
            exact(where, got, [len(own), sum(r["of_record"] for r in own), sum(r["mode"] == "live" for r in own),
                               sum(r["mode"] == "video" for r in own)])
            near(where + " mean", row["Mean total, %"], told[code]["raw_mean"]["value"])
            exact(where + " shared", row["Shared"], told[code]["shared"])
            triple(where, row, ("Severity, %", "Severity from", "Severity to"), of_json(told[code]["severity"]))
        told = load(f"{folder}/agreement-{exercise}.json")
        for row in (r for r in agreed if r["Exercise"] == title):
            where = f"Assessors: agreement {exercise} {row['Of']}"
            exact(where + " sessions", row["Sessions"], told["sessions"])
            check_agreement(where, row, told)


def check_agreement(where, row, told):
    if row["Of"] == "Total":
        total = next(score for score in told["scores"] if score["id"] == "total")
        icc = [f for f in total["icc"]["forms"] if f["form"].startswith(row["Beyond chance is"][:8])]
        if not row["Beyond chance is"].startswith("not estimable"):
            triple(where, row, ("Beyond chance", "Beyond from", "Beyond to"), of_json(icc[0]))
        return
    of = told["checkpoints" if row["Of"] == "Checkpoints" else "errors"]["all"]
    exact(where + " pairs", row["Pairs"], of["pairs"])
    triple(where, row, ("Agreed, %", "Agreed from", "Agreed to"), of_json(of["agreed"]), 100)
    triple(where, row, ("Beyond chance", "Beyond from", "Beyond to"), of_json(of["kappa"]))
    near(where + " AC1", row["AC1"], of["ac1"]["value"])


# Standards and curves ---------------------------------------------------------

def wanted_marks(data, folder):
    """(exercise, mark in thousandths, standard or None) in the order of the sheet."""
    standards = load(f"{folder}/standards.json")
    for exercise in data.exercises:
        yield exercise, data.rubrics[exercise].pass_milli, None
        for standard in standards:
            if standard["rubric"] == exercise:
                yield exercise, standard["cut_milli"], standard


def check_standards(sheet, data, folder):
    rows, wanted = rows_of(sheet, "Standards"), list(wanted_marks(data, folder))
    exact("Standards: marks", [row["Mark, %"] for row in rows], [mark / 1000 for _, mark, _ in wanted])
    for row, (exercise, mark, standard) in zip(rows, wanted):
        where, sessions = f"Standards: {exercise} {mark}", data.of(exercise)
        last = max(s.started for s in sessions)
        year = [s for s in sessions if (last - s.started).total_seconds() <= 365 * 86400 and s.total >= 0]
        decided = [s for s in year if s.outcome != "undecided"]
        passes = [s.outcome == "pass" for s in decided]
        would = [s.total >= mark and not s.held for s in decided]
        pairs = list(zip(passes, would))
        got = [row[name] for name in ("Stays pass", "Stays not yet", "To not yet", "To pass", "Decided")]
        exact(where, got, [pairs.count((True, True)), pairs.count((False, False)), pairs.count((True, False)),
                           pairs.count((False, True)), len(pairs)])
        exact(where + " held", row["Held all the same"], sum(s.held and s.total >= mark for s in decided))
        above = figures.wilson(sum(s.total >= mark for s in year), len(year))
        triple(where, row, ("At or above, %", "At or above, from", "At or above, to"), above, 100)
        zone = load(f"{folder}/reliability-{exercise}.json")["sem_percent"]["value"]
        near_mark = None if zone is None else sum(abs(s.total - mark) <= zone * 1000 for s in decided)
        exact(where + " doubtful", row["Doubtful"], near_mark)
        if standard is not None:
            se = standard["se_milli"]
            exact(where + " error", row["Standard error"], None if se is None else se / 1000)
            exact(where + " judges", row["Judges"], standard["judges"] or None)
        if standard is None:
            exact(where + " whose", (row["Standard"], row["State"]), ("Pass mark of the rubric", "decides today"))
        elif bool(standard["in_force"]) != row["State"].startswith("adopted "):
            complain(where, "is in force:", standard["in_force"], "and reads", row["State"])


def check_attempts(sheet, data, curves):
    rows = iter(rows_of(sheet, "Attempts"))
    for exercise in data.exercises:
        cohort = curves[exercise]["cohort"]
        totals = {}
        for session in data.of(exercise):
            if session.total >= 0:
                totals.setdefault(session.attempt, []).append(session.total)
        for attempt in sorted(totals):
            row, where = next(rows), f"Curves: {exercise} attempt {attempt}"
            exact(where, (row["Attempt"], row["Trainees"]), (attempt, len(totals[attempt])))
            for name, quarter in (("A quarter below, %", 1), ("Median, %", 2), ("A quarter above, %", 3)):
                exact(f"{where} {name}", row[name], shown(figures.quartile(totals[attempt], quarter)))
            if "start" in cohort and cohort["start"]["value"] is not None:
                doublings = figures.math.log2(attempt)
                near(where + " curve", row["Curve, %"], cohort["start"]["value"] + doublings * cohort["gain"]["value"])
            exact(where + " mark", row["Needed, %"], data.rubrics[exercise].pass_milli / 1000)
    exact("Curves: attempts end", next(rows, None), None)


def check_curves(sheet, data, folder):
    curves = {exercise: load(f"{folder}/curve-{exercise}.json")[0] for exercise in data.exercises}
    check_attempts(sheet, data, curves)
    rows = iter(rows_of(sheet, "Trainees"))
    for exercise in data.exercises:
        for told in curves[exercise]["trainees"]:
            row, where = next(rows), f"Curves: {exercise} {told['trainee']}"
            mine = [s for s in data.by_trainee[told["trainee"]] if s.rubric.id == exercise]
            exact(where, row["Trainee"], f"{told['trainee']} ({data.people[told['trainee']]['name']})")
            exact(where + " attempts", row["Attempts"], len(mine))
            exact(where + " totals", (row["First, %"], row["Latest, %"]), (shown(mine[0].total), shown(mine[-1].total)))
            exact(where + " words", row["Standard, from pass and not yet"], told["standard"]["words"])
            with_cohort = told["with_cohort"]
            if not with_cohort or with_cohort["start"]["value"] is None:
                continue
            triple(where, row, ("Start, %", "Start from", "Start to"), of_json(with_cohort["start"]))
            triple(where, row, ("Gain a doubling", "Gain from", "Gain to"), of_json(with_cohort["gain"]))
            to = with_cohort["to_mark"]
            exact(where + " to mark", [row[n] for n in ("At mark by attempt", "By, from", "By, to")],
                  [to["at"] or None, to["low"] or None, to["high"] or None])
    exact("Curves: trainees end", next(rows, None), None)


# The workbook -----------------------------------------------------------------

LEAST_SCALE = 40  # percent: letters of 10 points print as 4


def check_charts_are_printed(where, sheet):
    """Each chart lies within what is printed."""
    if not sheet._charts or not sheet.print_area:
        return
    area = sheet.print_area[0] if isinstance(sheet.print_area, list) else sheet.print_area
    last = openpyxl.utils.cell.range_boundaries(area.split("!")[-1].replace("$", ""))[2:]
    for chart in sheet._charts:
        end = (chart.anchor.to.col + 1, chart.anchor.to.row + 1)
        if end[0] > last[0] or end[1] > last[1]:
            complain(f"{where}: a chart ends in column {end[0]}, row {end[1]}; print ends at {last}")


def check_structure(path, book):
    same(f"{path}: sheets", book.sheetnames, SHEETS)
    for name in SHEETS:
        check_sheet(f"{path}: {name}", book[name], LEAST_SCALE)
        same(f"{path}: tables of {name}", list(book[name].tables)[:2], TABLES[name])
        same(f"{path}: {name}: frozen", book[name].freeze_panes, "A6")
        check_charts_are_printed(f"{path}: {name}", book[name])
        same(f"{path}: {name}: repeated rows", book[name].print_title_rows, "$5:$5")
    same(f"{path}: Overview: repeated column", book["Overview"].print_title_cols, "$A:$A")
    names = [table for sheet in book for table in sheet.tables]
    same(f"{path}: names of tables", len(names), len(set(names)))


def main():
    warnings.simplefilter("error")
    folder, path, rubrics = sys.argv[1], sys.argv[2], sys.argv[3:]
    data, book = Data(folder, rubrics), openpyxl.load_workbook(path)
    check_structure(path, book)
    check_overview(book["Overview"], data)
    check_heat(book["Heat"], data)
    check_checkpoints(book["Checkpoints"], data)
    check_errors(book["Errors"], data)
    check_assessors(book["Assessors"], data, folder)
    check_standards(book["Standards"], data, folder)
    check_curves(book["Curves"], data, folder)
    severities = sum(any(one["severity"]["value"] is not None for one in load(
        f"{folder}/reliability-{e}.json")["severity"]["assessors"]) for e in data.exercises)
    with_errors = sum(bool(data.rubrics[e].errors) for e in data.exercises)
    n = len(data.exercises)
    charts = [len(book[name]._charts) for name in SHEETS]
    marked = len({standard["rubric"] for standard in load(f"{folder}/standards.json")} & set(data.exercises))
    same("charts", charts, [1, int(len(data.by_trainee) >= 4), n, with_errors, severities, marked, n, 0])
    for fault in faults[:40]:
        print(fault)
    print(f"{os.path.basename(path)}: {counted} figures compared, {len(faults)} faults")
    return 1 if faults or counted < 100 else 0


if __name__ == "__main__":
    sys.exit(main())
