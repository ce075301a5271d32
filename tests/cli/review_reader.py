# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads a review (HTML, and its PDF as text) and compares its numbers with `score --json`.

usage: review_reader.py SCORES_JSON SESSION MODE REVIEW.html REVIEW.txt
"""
import json
import sys
from fractions import Fraction
from html.parser import HTMLParser

faults = []
VOID = {"meta", "br", "polyline", "polygon", "circle"}


def complain(*words):
    faults.append(" ".join(str(word) for word in words))


class Page(HTMLParser):
    """Ids, links, tables and text; checks that elements close in order."""

    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.ids, self.links, self.rows, self.open, self.outside = [], [], {}, [], []
        self.text, self.headings = [], []
        self.row = self.cell = None

    def handle_starttag(self, tag, attributes):
        has = dict(attributes)
        if "id" in has:
            self.ids.append(has["id"])
        if tag == "a":
            self.links.append(has["href"])
        for name in ("src", "action", "data", "poster", "srcset"):
            if name in has:
                self.outside.append(f"{tag} {name}")
        if tag in ("script", "link", "iframe", "object", "img"):
            self.outside.append(tag)
        if any(name.startswith("on") for name in has):
            self.outside.append(f"{tag} with a handler")
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.row = (has.get("id"), [])
        if tag in ("td", "th"):
            self.cell = []

    def handle_startendtag(self, tag, attributes):
        self.handle_starttag(tag, attributes)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag):
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            complain("elements do not close in order at", tag)
        if tag in ("td", "th"):
            self.row[1].append("".join(self.cell).strip())
            self.cell = None
        if tag == "tr" and self.row[0]:
            self.rows[self.row[0]] = self.row[1]

    def handle_data(self, data):
        if "style" in self.open:
            return
        self.text.append(data)
        if self.cell is not None:
            self.cell.append(data)
        if self.open and self.open[-1] in ("h1", "h2"):
            self.headings.append(data)


def decimal(mp):
    text = f"{Fraction(mp, 1000):.3f}" if isinstance(mp, Fraction) else f"{mp / 1000:.3f}"
    return text.rstrip("0").rstrip(".")


def clock(ms):
    seconds = ms // 1000
    hours, minutes = seconds // 3600, seconds // 60 % 60
    return f"{hours}:{minutes:02}:{seconds % 60:02}" if hours else f"{minutes}:{seconds % 60:02}"


def expect_row(page, id_, column, words):
    row = page.rows.get(id_)
    if row is None:
        complain("no row", id_)
    elif row[column] != words:
        complain("row", id_, "says", repr(row[column]), "and should say", repr(words))


def main():
    scores, session, mode, html, text = sys.argv[1:]
    score = next(s for s in json.load(open(scores)) if s["session"] == session and s["mode"] == mode)
    page = Page()
    page.feed(open(html, encoding="utf-8").read())
    if page.open:
        complain("left open:", page.open)
    if page.outside:
        complain("not self-contained:", page.outside)
    if len(set(page.ids)) != len(page.ids):
        complain("an id stands twice:", sorted(i for i in set(page.ids) if page.ids.count(i) > 1))
    for link in page.links:
        if not link.startswith("#") or link[1:] not in page.ids:
            complain("a link leads nowhere:", link)

    # The parts stand in the order that a reader needs them.
    order = ["What cost most", "What went well", "The session in time", "The order of the work",
             "Time against target", "Technique errors", "The full ledger", "The log",
             "Progress in this exercise", "Please note", "Where this comes from"]
    places = [page.headings.index(h) if h in page.headings else -1 for h in order]
    if -1 in places or places != sorted(places):
        complain("headings are", page.headings)

    # Every row of the ledger with its points.
    for row in score["steps"]["rows"]:
        points = f"{decimal(row['given'])} of {decimal(row['points'])}" if row["in_score"] else "not in the score"
        expect_row(page, f"steps-{row['id']}", 3, points)
    for row in score["order"]["rows"]:
        if row["applies"]:
            expect_row(page, f"order-{row['id']}", 3, f"{decimal(row['given'])} of {decimal(row['lose'])}")
    for part in ("product", "rating"):
        for row in score[part]["rows"]:
            if f"{part}-{row['id']}" not in page.rows:
                complain("no row for", part, row["id"])
    for row in score["technique"]["rows"]:
        if row["count"]:
            expect_row(page, f"technique-{row['id']}", 3, decimal(-row["lost"]))

    # Every event that a row rests on stands in the log, and the row leads to it.
    bound = [seq for row in score["steps"]["rows"] for seq in row["bound"]]
    for seq in bound:
        if f"event-{seq}" not in page.ids:
            complain("event", seq, "is not in the log")
    for row in score["steps"]["rows"]:
        if row["bound"] and row["in_score"] and f"#event-{row['bound'][0]}" not in page.links:
            complain("no way from", row["id"], "to its event")

    # The answer, in the page and in print.
    whole = " ".join("".join(page.text).split())
    printed = " ".join(open(text, encoding="utf-8").read().split())
    wanted = [{"pass": "Pass", "not_yet": "Not yet", "undecided": "Undecided"}[score["outcome"]]]
    if score["total"]:
        percent = (Fraction(score["total"]) * 1000).__floor__()
        wanted.append(f"{percent // 10}.{percent % 10} %")
    wanted.append(clock(score["time"]["total_ms"]))
    wanted += ["no certificate of clinical competence", "certifies no clinical competence", "Receipt "]
    for words in wanted:
        for where, told in (("the page", whole), ("the print", printed)):
            if words not in told:
                complain(where, "does not say", repr(words))

    # Print shows the same rows: each title of the ledger, letter by letter.
    letters = "".join(printed.split())
    for id_, cells in page.rows.items():
        first = "".join(cells[2].split()) if id_.startswith("event-") else "".join(cells[3].split())
        if first and first not in letters:
            complain("print lacks", repr(cells), "of", id_)
    if faults:
        sys.exit("\n".join(faults[:20]))


main()
