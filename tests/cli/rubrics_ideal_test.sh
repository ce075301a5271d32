# SPDX-License-Identifier: GPL-3.0-or-later
# Each rubric can be done: a session that does all it asks, in an order its rules allow, earns every point and passes, in
# every option of its choices and with every complication. The same session never passes with a critical rule broken, a
# critical checkpoint left out, a critical error or a measure beyond "fail", whichever option is taken; nor does an idle one.
set -eu
python3 -c 'import yaml' 2>/dev/null || exit 77
PYTHONPATH="$SOURCE_DIR/tests/support" PYTHONDONTWRITEBYTECODE=1 python3 - "$SOURCE_DIR" <<'PY'
import csv, glob, graphlib, itertools, os, sys
import yaml
import expectations

def as_list(value):
    return value if isinstance(value, list) else [value]


def one_value(allowed):
    """One value that "14..18 mm", "..18 mm", "[a, b]" or "done" lets in, as the log writes it."""
    first = as_list(allowed)[0]
    low, dots, high = first.partition("..")
    if not dots:
        return first.split(" ")[0]
    return (low or high).strip().split(" ")[0]


class Ideal:
    def __init__(self, rubric, inject, options):
        self.rubric, self.inject = rubric, inject
        self.checkpoints = {c["id"]: c for phase in rubric["phases"] for c in phase["checkpoints"]}
        self.phases = {phase["id"]: [c["id"] for c in phase["checkpoints"]] for phase in rubric["phases"]}
        added = {c for each in rubric.get("injects", []) for c in each.get("adds", [])}
        out = added - set(inject.get("adds", [])) | set(inject.get("drops", []))
        for choice, taken in zip(rubric.get("choices", []), options):
            out |= {c for number, option in enumerate(choice["options"]) if number != taken for c in option}
        self.asked = [c for c in self.checkpoints if c not in out]

    def side(self, names):
        wanted = {c for name in as_list(names) for c in self.phases.get(name, [name])}
        return [c for c in self.asked if c in wanted]

    def ordered(self):
        before = {c: set() for c in self.asked}
        for rule in self.rules():
            for then in self.side(rule["then"]):
                before[then].update(self.side(rule["first"]))
        return graphlib.TopologicalSorter(before).static_order()

    def rules(self):
        suspended = self.inject.get("suspends", [])
        return [rule for rule in self.rubric["order"] if rule["id"] not in suspended] + self.inject.get("order", [])

    def entries(self, without=None, early=None, error=None):
        if self.inject:
            yield {"action": "inject", "item": self.inject["id"]}
        yield {"action": "start"}
        order = [name for name in self.ordered() if name != without]
        for name in sorted(order, key=lambda each: each != early):
            checkpoint = self.checkpoints[name]
            match, times = checkpoint["match"], checkpoint.get("times", "1")
            action = self.rubric["actions"][match["action"]]
            row = {"action": match["action"], "site": as_list(match.get("site", action.get("sites", "")))[0]}
            for details in match.get("details", {}), checkpoint.get("expect", {}):
                row.update({key: one_value(value) for key, value in details.items() if key != "verify"})
            least = times.get("least", "1") if isinstance(times, dict) else times
            yield from itertools.repeat(row, int(least))
        if error:
            yield {"action": "error", "item": error}
        yield {"action": "finish"}
        yield from self.marks()

    def marks(self, beyond=None):
        for measure in self.rubric.get("measures", []):
            value = float(one_value(measure["good"]))
            if measure["id"] == beyond:
                fail = float(one_value(measure["fail"]))
                value = fail + 0.1 if fail > value else fail - 0.1
            yield {"action": "measure", "item": measure["id"], "value": f"{value:g}"}
        for rating in self.rubric.get("ratings", []):
            yield {"action": "rate", "item": rating["id"], "value": max(rating["scale"], key=int)}


class Sessions:
    """Sessions made up of one rubric, scored together, and what each has to come to."""

    def __init__(self, path, rubric):
        self.path, self.name, self.cases, self.rows = path, os.path.basename(path), [], []
        self.same = {"trainee": "t1", "assessor": "a1", "rubric": rubric["rubric"], "edition": rubric["edition"],
                     "started": "2026-03-01T09:00:00Z", "mode": "live"}

    def add(self, entries, what, wrong):
        """`wrong` says what is wrong with the score, or nothing."""
        session = f"s{len(self.cases)}"
        self.cases.append((what, wrong))
        self.rows += [{**self.same, "session": session, "time": str(second), **entry} for second, entry in enumerate(entries)]

    def score(self):
        names = ["session", *self.same, "time", "action", "site", "item", "value", "redo", "note"]
        names += [key for key in dict.fromkeys(key for row in self.rows for key in row) if key not in names]
        with open("events.csv", "w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, names, restval="")
            out.writeheader()
            out.writerows(self.rows)
        results = expectations.score(self.path, "events.csv")
        assert len(results) == len(self.cases)
        for got, (what, wrong) in zip(results, self.cases):
            fault = wrong(got)
            if fault:
                yield f"{self.name}, {what}: {fault}"


def spoilt(rubric, ideal):
    """The same session with one critical thing wrong, and what it is."""
    for rule in ideal.rules():
        if rule.get("critical") == "true" and ideal.side(rule["first"]):
            for then in ideal.side(rule["then"]):
                yield f"{then} before all else breaks {rule['id']}", list(ideal.entries(early=then))
    for name in ideal.asked:
        if "critical" in ideal.checkpoints[name]:
            yield f"{name} was left out", list(ideal.entries(without=name))
    for error in rubric["errors"]:
        if error["severity"] == "critical" and "match" not in error:
            yield f"the error {error['id']}", list(ideal.entries(error=error["id"]))
    for measure in rubric.get("measures", []):
        if "fail" in measure:
            yield f"{measure['id']} beyond fail", list(ideal.entries()) + list(ideal.marks(beyond=measure["id"]))


def not_all(options):
    def wrong(got):
        if list(got["choices"].values()) != list(options):
            return f"the options {got['choices']} were taken"
        if got["total"] == "1/1" and got["outcome"] == "pass" and not (got["unplanned"] or got["extra"] or got["ignored"]):
            return None
        lost = [row["id"] for part in ("steps", "order") for row in got[part]["rows"]
                if row["given"] != row.get("points", row.get("lose")) and row.get("in_score", True)]
        return f"{got['outcome']} {got['total']}, not given: {lost}, unplanned {got['unplanned']}, extra {got['extra']}"
    return wrong


def passes(got):
    return "it passes" if got["outcome"] == "pass" else None


def not_refused(got):
    return None if got["outcome"] == "not_yet" else f"the outcome is {got['outcome']}"


def add_all(sessions, rubric, inject, options):
    name = f"{inject.get('id', 'no complication')}, options {list(options)}"
    ideal = Ideal(rubric, inject, options)
    sessions.add(ideal.entries(), name, not_all(options))
    sessions.add([{"action": "start"}, {"action": "finish"}, *ideal.marks()], f"{name}, idle", passes)
    for what, entries in spoilt(rubric, ideal):
        sessions.add(entries, f"{name}, {what}", not_refused)


faults, counted = [], 0
for path in sorted(glob.glob(os.path.join(sys.argv[1], "rubrics", "*.yaml"))):
    with open(path, encoding="utf-8") as file:
        rubric = yaml.load(file, yaml.BaseLoader)
    sessions = Sessions(path, rubric)
    for inject in [{}] + rubric.get("injects", []):
        for options in itertools.product(*(range(len(choice["options"])) for choice in rubric.get("choices", []))):
            add_all(sessions, rubric, inject, options)
    faults += sessions.score()
    counted += len(sessions.cases)
for fault in faults:
    print(fault)
print(f"{counted} sessions made from the rubrics, {len(faults)} faults")
sys.exit(bool(faults) or counted < 250)
PY
