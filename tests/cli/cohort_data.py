# SPDX-License-Identifier: GPL-3.0-or-later
"""What the director's workbook is made from, worked out again from the command's own exchange forms: sessions --json,
score --json, person list --json and the rubric files."""
import datetime
import json
from collections import defaultdict
from fractions import Fraction

import yaml

MARK = {"pass": "\u25cf Pass", "not_yet": "\u25cb Not yet", "undecided": "\u25d0 Undecided"}


def load(path):
    with open(path, encoding="utf-8") as file:
        return json.load(file)


def milli(text):
    return int(Fraction(str(text).split()[0]) * 1000)


class Rubric:
    """What is needed of a rubric file; everything in it is text."""

    def __init__(self, path):
        with open(path, encoding="utf-8") as file:
            self.text = yaml.load(file, Loader=yaml.BaseLoader)
        text = self.text
        self.id, self.title, self.edition = text["rubric"], text["title"], int(text["edition"])
        self.phases = {phase["id"]: [c["id"] for c in phase["checkpoints"]] for phase in text["phases"]}
        self.checkpoints = [c for phase in text["phases"] for c in phase["checkpoints"]]
        self.errors = text.get("errors", [])
        self.points = {m["id"]: milli(m["points"]) for m in text.get("measures", []) + text.get("ratings", [])}
        self.competencies = text.get("competencies", [])
        self.pass_milli = milli(text["score"]["pass"])

    def sources(self, competency):
        """The ids of its rows in the ledger, phases as their checkpoints."""
        ids = []
        for name in competency["from"]:
            ids += [i for i in self.phases.get(name, [name]) if i not in ids]
        return ids


class Session:
    """A session by its observation of record."""

    def __init__(self, row, score, rubric):
        self.row, self.score, self.rubric = row, score, rubric
        self.trainee, self.attempt = row["trainee"], row["attempt"]
        self.started = datetime.datetime.fromisoformat(row["started"].replace("Z", "+00:00"))
        self.outcome = score["outcome"]
        # The total in thousandths of a percent, cut, as the book keeps it; -1: none.
        self.total = -1 if score["total"] is None else (Fraction(score["total"]) * 100000).__floor__()
        codes = {reason["code"] for reason in score["reasons"]}
        self.held = self.outcome == "not_yet" and codes != {"below_pass"}

    def step(self, checkpoint):
        """done, not done, not seen or out; and the share done."""
        row = next(r for r in self.score["steps"]["rows"] if r["id"] == checkpoint["id"])
        if row["why_out"] == "unseen" or (row["in_score"] and not self.score["steps"]["assessed"]):
            return "not seen", None
        if not row["in_score"]:
            return "out", None
        right = len(row["conforming"])
        return ("done" if right >= row["least"] else "not done"), min(right, row["least"]) / row["least"]

    def found(self, kind):
        """How often an error was found; None when technique was not assessed."""
        count = sum(r["count"] for r in self.score["technique"]["rows"] if r["id"] == kind["id"])
        return count if self.score["technique"]["assessed"] or count else None

    def competency(self, ids):
        """(assessed, given, possible, errors) of the rows with these ids."""
        given = possible = errors = 0
        assessed = False
        for part in ("steps", "order", "technique", "product", "rating"):
            for row in self.score[part]["rows"]:
                if row["id"] not in ids or not self.score[part]["assessed"]:
                    continue
                if part == "steps" and row["in_score"]:
                    given, possible = given + row["given"], possible + row["points"]
                elif part == "order" and row["applies"]:
                    given, possible = given + row["given"], possible + row["lose"]
                elif part == "technique":
                    given, errors = given - row["lost"], errors + row["count"]
                elif part in ("product", "rating") and row["value"] is not None:
                    given, possible = given + row["given"], possible + self.rubric.points[row["id"]]
        for part, names in (("steps", self.rubric.checkpoints), ("order", self.rubric.text.get("order", [])),
                            ("technique", self.rubric.errors), ("product", self.rubric.text.get("measures", [])),
                            ("rating", self.rubric.text.get("ratings", []))):
            assessed |= self.score[part]["assessed"] and any(thing["id"] in ids for thing in names)
        return assessed, max(given, 0), possible, errors


class Data:
    def __init__(self, folder, rubric_files, cohort=None):
        self.rubrics = {rubric.id: rubric for rubric in map(Rubric, rubric_files)}
        self.people = {person["code"]: person for person in load(f"{folder}/people.json")}
        scores = {(s["session"], s["assessor"], s["mode"]): s for s in load(f"{folder}/scores.json")}
        rows = [r for r in load(f"{folder}/sessions.json") if r["closed"] and
                (cohort is None or self.people[r["trainee"]]["cohort"] == cohort)]
        self.observations = rows
        self.sessions = [Session(r, scores[r["session"], r["assessor"], r["mode"]], self.rubrics[r["rubric"]])
                         for r in rows if r["of_record"]]
        self.sessions.sort(key=lambda s: (s.started, s.row["session"]))
        self.exercises = sorted({s.rubric.id for s in self.sessions})
        self.by_trainee = defaultdict(list)
        for session in self.sessions:
            self.by_trainee[session.trainee].append(session)

    def of(self, exercise):
        return [s for s in self.sessions if s.rubric.id == exercise]

    def latest(self, trainee, exercise):
        mine = [s for s in self.by_trainee[trainee] if s.rubric.id == exercise]
        return mine[-1] if mine else None

    def latest_of_all(self, exercise):
        """The latest session of each trainee who has one."""
        return [s for s in (self.latest(t, exercise) for t in sorted(self.by_trainee)) if s]

    def need(self, trainee):
        """The rule of the sheet Overview as a key that sorts."""
        latest = [s for s in (self.latest(trainee, e) for e in self.exercises) if s]
        short = sum(max(s.rubric.pass_milli - s.total, 0) for s in latest if s.outcome == "not_yet" and s.total >= 0)
        return (-sum(s.held for s in latest), -sum(s.outcome == "not_yet" for s in latest), -short,
                -sum(s.outcome == "undecided" for s in latest), max(s.total for s in self.by_trainee[trainee]), trainee)
