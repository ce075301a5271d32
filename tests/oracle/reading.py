# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads a rubric file and a tidy CSV log into plain objects, for the oracle.

Nothing is checked here: the oracle is only ever given what the command itself accepts.
Points are whole thousandths, times whole milliseconds, values exact fractions of their unit.
"""
import csv
import re
from dataclasses import dataclass, field
from fractions import Fraction

import yaml

COMPONENTS = ["steps", "order", "time", "technique", "product", "rating"]
LOG_COLUMNS = ["session", "trainee", "assessor", "rubric", "edition", "started", "mode", "time",
               "action", "site", "item", "value", "redo", "note"]
TEXT_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)     # every scalar is text
BUILT_IN = ["start", "finish", "pause", "resume", "inject", "error", "rate", "measure", "unseen",
            "note"]


# ---------------------------------------------------------------- numbers, ranges, durations

def thousandths(text):
    """'1.004' -> 1004."""
    exact = Fraction(text) * 1000
    assert exact.denominator == 1, text
    return int(exact)


def number(text, unit):
    """'16 mm' or '16' -> 16, as an exact fraction."""
    text = text.strip()
    if unit and text.endswith(unit):
        text = text[:-len(unit)].strip()
    return Fraction(text)


def duration_ms(text):
    amount, unit = re.fullmatch(r"([0-9.]+) *(ms|s|min|h)", text).groups()
    exact = Fraction(amount) * {"ms": 1, "s": 1000, "min": 60000, "h": 3600000}[unit]
    assert exact.denominator == 1, text
    return int(exact)


def clock_time_ms(text):
    """mm:ss, h:mm:ss (both with fractions), or seconds."""
    total = Fraction(0)
    for part in text.split(":"):
        total = total * 60 + Fraction(part)
    total *= 1000
    assert total.denominator == 1, text
    return int(total)


@dataclass(frozen=True)
class Range:
    """A closed range; None is an open end."""
    low: object
    high: object

    def holds(self, value):
        return (self.low is None or self.low <= value) and \
               (self.high is None or value <= self.high)


@dataclass(frozen=True)
class Detail:
    name: str
    unit: str           # "" for a whole detail and for words
    is_number: bool
    tells_apart: bool

    def value(self, text):
        """A value as logged: words exactly as they stand, numbers exact."""
        return number(text, self.unit) if self.is_number else text

    def allowed(self, node):
        """Section 5, values: a value, a range, or a list of these -> list of Range."""
        nodes = node if isinstance(node, list) else [node]
        return [self._one(text) for text in nodes]

    def _one(self, text):
        if self.is_number and ".." in text:
            low, high = text.strip().removesuffix(self.unit).strip().split("..")
            return Range(number(low, self.unit) if low else None,
                         number(high, self.unit) if high else None)
        value = self.value(text)
        return Range(value, value)


def is_allowed(value, ranges):
    return any(one.holds(value) for one in ranges)


# ---------------------------------------------------------------- the rubric

@dataclass
class Match:
    action: str
    sites: list         # None: any site, or none
    details: dict       # name -> list of Range


@dataclass
class Checkpoint:
    id: str
    phase: str
    match: Match
    least: int
    most: int
    expect: dict        # name -> list of Range
    verify_required: bool
    points: int
    critical: str       # "", "done" or "right"
    extra: str          # a kind of error, or ""


@dataclass
class Rule:
    id: str
    first: list         # ids of checkpoints
    then: list
    by: str
    lose: int
    critical: bool
    inject: str         # "" for a base rule


@dataclass
class Inject:
    id: str
    adds: list
    drops: list
    suspends: list
    rules: list


@dataclass
class ErrorKind:
    id: str
    severity: str
    lose: int
    cap: int            # None: no limit
    match: Match        # None: logged by hand
    only_unplanned: bool


@dataclass
class Measure:
    id: str
    unit: str
    good: Fraction
    poor: Fraction
    fail: Fraction      # or None
    points: int


@dataclass
class Rating:
    id: str
    steps: int
    points: int


@dataclass
class Timed:
    """The clock, or a phase."""
    id: str
    target_ms: int
    limit_ms: int
    points: int


@dataclass
class Rubric:
    id: str
    edition: int
    quiet_ms: int = None
    clock: Timed = None
    details: dict = field(default_factory=dict)     # action -> {name: Detail}
    phases: list = field(default_factory=list)      # of Timed
    checkpoints: list = field(default_factory=list)
    rules: list = field(default_factory=list)
    choices: list = field(default_factory=list)     # of (id, [option: [checkpoint id]])
    injects: list = field(default_factory=list)
    errors: list = field(default_factory=list)
    measures: list = field(default_factory=list)
    ratings: list = field(default_factory=list)
    technique_points: int = 0
    weights: dict = field(default_factory=dict)
    floors: dict = field(default_factory=dict)
    optional: list = field(default_factory=list)
    pass_mark: Fraction = None

    def checkpoint(self, wanted):
        return next(one for one in self.checkpoints if one.id == wanted)


def as_list(node):
    if node is None or node == "":
        return []
    return node if isinstance(node, list) else [node]


def read_details(node):
    """The details an action may bear."""
    found = {}
    for name, spec in (node.get("details") or {}).items():
        found[name] = Detail(name, spec.get("unit", ""), "one_of" not in spec,
                             spec.get("tells_apart") == "true")
    return found


def read_match(rubric, node):
    details = rubric.details[node["action"]]
    return Match(node["action"], as_list(node["site"]) if "site" in node else None,
                 {name: details[name].allowed(values)
                  for name, values in (node.get("details") or {}).items()})


def read_times(node):
    """Section 4: `times: n` is least = most = n; least is 1 and most is least when left out."""
    if node is None:
        return 1, 1
    if not isinstance(node, dict):
        return int(node), int(node)
    least = int(node.get("least", 1))
    return least, int(node.get("most", least))


def read_checkpoint(rubric, phase, node):
    match = read_match(rubric, node["match"])
    least, most = read_times(node.get("times"))
    expect = dict(node.get("expect") or {})
    verify = expect.pop("verify", "")
    critical = {"true": "done", "false": ""}.get(node.get("critical", ""), node.get("critical", ""))
    return Checkpoint(node["id"], phase, match, least, most,
                      {name: rubric.details[match.action][name].allowed(values)
                       for name, values in expect.items()},
                      verify == "required", thousandths(node.get("points", "0")), critical,
                      node.get("extra", ""))


def read_rule(rubric, node, inject):
    def side(names):
        found = []
        for name in as_list(names):
            of_phase = [one.id for one in rubric.checkpoints if one.phase == name]
            found += of_phase or [name]
        return found
    return Rule(node["id"], side(node["first"]), side(node["then"]), node.get("by", "finish"),
                thousandths(node.get("lose", "0")), node.get("critical") == "true", inject)


def read_timed(name, node):
    def time(key):
        return duration_ms(node[key]) if key in node else None
    return Timed(name, time("target"), time("limit"), thousandths(node.get("points", "0")))


def read_rubric(path):
    with open(path, encoding="utf-8") as file:
        top = yaml.load(file, Loader=TEXT_LOADER)
    rubric = Rubric(top["rubric"], int(top["edition"]))
    clock = top.get("clock") or {}
    rubric.clock = read_timed("clock", clock)
    rubric.quiet_ms = duration_ms(clock["quiet"]) if "quiet" in clock else None
    for action, node in top["actions"].items():
        rubric.details[action] = read_details(node)
    for node in top["phases"]:
        rubric.phases.append(read_timed(node["id"], node))
        for inner in node["checkpoints"]:
            rubric.checkpoints.append(read_checkpoint(rubric, node["id"], inner))
    rubric.rules = [read_rule(rubric, node, "") for node in as_list(top.get("order"))]
    rubric.choices = [(node["id"], [as_list(option) for option in node["options"]])
                      for node in as_list(top.get("choices"))]
    for node in as_list(top.get("injects")):
        rubric.injects.append(Inject(
            node["id"], as_list(node.get("adds")), as_list(node.get("drops")),
            as_list(node.get("suspends")),
            [read_rule(rubric, rule, node["id"]) for rule in as_list(node.get("order"))]))
    read_judgements(rubric, top)
    return rubric


def read_judgements(rubric, top):
    """Errors, measures, ratings and how they are scored."""
    for node in as_list(top.get("errors")):
        rubric.errors.append(ErrorKind(
            node["id"], node["severity"], thousandths(node.get("lose", "0")),
            thousandths(node["cap"]) if "cap" in node else None,
            read_match(rubric, node["match"]) if "match" in node else None,
            node.get("only") == "unplanned"))
    for node in as_list(top.get("measures")):
        unit = node["unit"]
        rubric.measures.append(Measure(
            node["id"], unit, number(node["good"], unit), number(node["poor"], unit),
            number(node["fail"], unit) if "fail" in node else None, thousandths(node["points"])))
    for node in as_list(top.get("ratings")):
        rubric.ratings.append(Rating(node["id"], max(int(key) for key in node["scale"]),
                                     thousandths(node["points"])))
    score = top["score"]
    rubric.technique_points = thousandths(score.get("technique_points", "0"))
    rubric.weights = {name: int(weight) for name, weight in (score.get("weights") or {}).items()}
    rubric.floors = {name: Fraction(floor) for name, floor in (score.get("floors") or {}).items()}
    rubric.optional = as_list(score.get("optional"))
    rubric.pass_mark = Fraction(score["pass"])


# ---------------------------------------------------------------- the log

@dataclass
class Event:
    seq: int
    at_ms: int
    action: str
    site: str           # "" is no site
    item: str
    value: str
    redo: str           # "", "yes" or a sequence number
    details: dict       # name -> value, those logged


@dataclass
class Observation:
    session: str
    trainee: str
    assessor: str
    mode: str
    log: list           # of Event, in log order: (time, sequence)


def read_events(path, rubric, struck=()):
    """Rows with the same session, assessor and mode are one observation, in order of appearance.

    `struck` holds (session, assessor, mode, number of the row): section 1, gone for good, while
    the others keep their places."""
    found = {}
    with open(path, encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            key = (row["session"], row["assessor"], row["mode"])
            if key not in found:
                found[key] = Observation(row["session"], row["trainee"], row["assessor"],
                                         row["mode"], [])
            log = found[key].log
            log.append(read_event(len(log) + 1, row, rubric))
    for key, observation in found.items():
        observation.log = [event for event in observation.log
                           if (*key, event.seq) not in struck]
        observation.log.sort(key=lambda event: (event.at_ms, event.seq))
    return list(found.values())


def read_event(seq, row, rubric):
    known = rubric.details.get(row["action"], {})
    return Event(seq, clock_time_ms(row["time"]), row["action"], row["site"], row["item"],
                 row["value"], row["redo"],
                 {name: detail.value(row[name]) for name, detail in known.items()
                  if row.get(name)})
