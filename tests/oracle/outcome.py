# SPDX-License-Identifier: GPL-3.0-or-later
"""Sections 6 and 11 of the scoring law: choices, total and outcome."""
from fractions import Fraction
from itertools import product as every_combination

import points
from binding import Binding, quiet_stretches, read_clock
from order import judge_all, order_figures
from reading import COMPONENTS


def reason(code, one=None, events=()):
    return {"code": code, "id": one, "events": list(events)}


class Scored:
    """One observation, scored to the end with one combination of options."""

    def __init__(self, rubric, log, clock, taken_out):
        self.rubric, self.log, self.clock = rubric, log, clock
        self.unseen_events = [event for event in log if event.action == "unseen"]
        self.unseen = {event.item for event in self.unseen_events}
        self.binding = Binding(rubric, clock, taken_out)
        self.parts = self.score_parts()
        self.total = self.find_total()
        self.outcome, self.reasons = self.find_outcome()

    def score_parts(self):
        steps = points.steps(self.binding, self.unseen)
        quiet = quiet_stretches(self.log, self.clock, self.rubric.quiet_ms)
        return {
            "steps": steps, "order": self.score_order(steps),
            "time": points.time(self.binding, self.clock, steps["rows"], self.unseen, quiet),
            "technique": points.technique(self.binding, self.clock, self.log, steps, self.unseen),
            "product": points.product(self.rubric, self.log, self.unseen),
            "rating": points.rating(self.rubric, self.log, self.unseen)}

    def score_order(self, steps):
        """Section 7: points of the rules that apply. If none does, order counts as assessed."""
        rows = judge_all(self.binding, self.unseen, self.clock)
        in_score = [row["id"] for row in steps["rows"] if row["in_score"]]
        share, moved = order_figures(self.binding, self.unseen, in_score, self.clock)
        return {"assessed": "order" not in self.unseen, "rows": rows, "concordance": share,
                "displaced": moved, "given": sum(row["given"] for row in rows),
                "possible": sum(row["lose"] for row in rows if row["applies"])}

    # Section 11

    def find_total(self):
        """Weighted over the components that count; None if there are none."""
        weighed = weights = Fraction(0)
        for name in COMPONENTS:
            weight, part = self.rubric.weights.get(name, 0), self.parts[name]
            if weight and part["assessed"] and part["possible"]:
                weighed += weight * Fraction(part["given"], part["possible"])
                weights += weight
        return weighed / weights if weights else None

    def is_needed(self, name):
        return name not in self.rubric.optional and \
            (self.rubric.weights.get(name, 0) > 0 or name in self.rubric.floors)

    def find_outcome(self):
        """The first line that holds."""
        lines = [("not_yet", self.shown_by_events), ("undecided", self.cannot_be_decided),
                 ("not_yet", self.critical_short), ("undecided", self.critical_not_verified),
                 ("not_yet", self.below_the_line)]
        for outcome, find_reasons in lines:
            reasons = find_reasons()
            if reasons:
                return outcome, reasons
        return "pass", []

    def rule_rows(self):
        """Critical rules: (id, rows judged without the unseen, rows judged as if none were)."""
        without = {row["id"]: row for row in self.parts["order"]["rows"]}
        nothing_unseen = {row["id"]: row
                          for row in judge_all(self.binding, set(), self.clock)}
        rules = self.rubric.rules + [rule for inject in self.rubric.injects
                                     for rule in inject.rules]
        for rule in rules:
            if rule.critical:
                yield rule, without.get(rule.id), nothing_unseen.get(rule.id)

    def shown_by_events(self):
        """Line 1."""
        found = [reason("critical_error", row["id"], row["events"])
                 for row in self.parts["technique"]["rows"]
                 if row["severity"] == "critical" and row["count"]]
        for rule, without, nothing_unseen in self.rule_rows():
            if is_broken(without) and is_broken(nothing_unseen):
                late = [one["late_event"] for one in without["short"]
                        if one["late_event"] is not None]
                found.append(reason("critical_rule", rule.id, [without["then_event"]] + late))
        found += [reason("measure_fail", one, [seq])
                  for one, seq in points.measures_beyond_fail(self.rubric, self.log)]
        return found

    def cannot_be_decided(self):
        """Line 2."""
        found = [] if self.clock.has_finish else [reason("not_finished")]
        lacking = [name for name in COMPONENTS
                   if self.is_needed(name) and not self.parts[name]["assessed"]]
        for code in ("not_assessed", "nothing_possible"):
            found += [reason(code, name) for name in lacking
                      if (code == "nothing_possible") == self.only_lacks_points(name)]
        for checkpoint, row in zip(self.rubric.checkpoints, self.parts["steps"]["rows"]):
            if checkpoint.critical and row["why_out"] == "unseen":
                found.append(reason("critical_unseen", checkpoint.id,
                                    self.naming([checkpoint.id])))
        for rule, without, nothing_unseen in self.rule_rows():
            if is_broken(without) != is_broken(nothing_unseen):
                found.append(reason("rule_unseen", rule.id, self.naming(rule.first + rule.then)))
        if self.total is None:
            found.append(reason("nothing_counts"))
        return found

    def only_lacks_points(self, name):
        """Not assessed for want of possible points alone; for technique, of possible steps."""
        if name in self.unseen:
            return False
        if name == "time":
            clock = self.clock
            sound = clock.has_start and clock.has_finish \
                and not clock.before_start() and not clock.while_paused()
            return sound and self.parts["time"]["possible"] == 0
        if name == "technique":
            return self.parts["steps"]["possible"] == 0
        return self.parts[name]["possible"] == 0

    def naming(self, checkpoints):
        return [event.seq for event in self.unseen_events if event.item in checkpoints]

    def critical_short(self):
        """Line 3."""
        return [reason("critical_short", row["id"], row["bound"])
                for row in self.parts["steps"]["rows"] if row["critical_failure"]]

    def critical_not_verified(self):
        """Line 4."""
        return [reason("critical_not_verified", checkpoint.id, row["not_verified"])
                for checkpoint, row in zip(self.rubric.checkpoints, self.parts["steps"]["rows"])
                if row["in_score"] and points.met_only_unverified(self.binding, checkpoint)]

    def below_the_line(self):
        """Lines 5 and 6: nothing found is a pass."""
        found = []
        if self.total * 100 < self.rubric.pass_mark:
            found.append(reason("below_pass"))
        for name in COMPONENTS:
            part = self.parts[name]
            if name in self.rubric.floors and part["possible"]:
                if Fraction(part["given"], part["possible"]) * 100 < self.rubric.floors[name]:
                    found.append(reason("below_floor", name))
        return found

    # Section 6

    def worth(self):
        """What combinations are compared by, the best greatest; listed order breaks ties."""
        steps = self.parts["steps"]
        share = Fraction(steps["given"], steps["possible"]) if steps["possible"] else Fraction(0)
        failures = sum(row["critical_failure"] for row in steps["rows"])
        return (["not_yet", "undecided", "pass"].index(self.outcome),
                -1 if self.total is None else self.total, -failures, share)


def is_broken(row):
    return row is not None and row["broken"]


def score_observation(rubric, log):
    """Section 6: every combination scored to the end; returns the best, and the options taken."""
    clock = read_clock(log)
    scored = {}
    for taken in every_combination(*[range(len(options)) for _, options in rubric.choices]):
        out = {one for (_, options), mine in zip(rubric.choices, taken)
               for place, option in enumerate(options) if place != mine for one in option}
        scored[taken] = Scored(rubric, log, clock, out)
    for choice, (_, options) in enumerate(rubric.choices):
        if not any(one.binding.bound[name] for taken, one in scored.items()
                   for name in options[taken[choice]]):
            scored = {taken: one for taken, one in scored.items() if taken[choice] == 0}
    best = max(one.worth() for one in scored.values())
    taken = min(taken for taken, one in scored.items() if one.worth() == best)
    return scored[taken], taken
