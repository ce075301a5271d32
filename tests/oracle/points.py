# SPDX-License-Identifier: GPL-3.0-or-later
"""Sections 5 and 8 to 10 of the scoring law: steps, time, technique, product and rating.

Each function returns the component as section 12 prints it.
"""
from fractions import Fraction

from binding import is_not_verified, matches


def rounded(exact):
    """Half away from zero; nothing here is negative."""
    exact = Fraction(exact)
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


def log_order(events):
    return sorted(events, key=lambda event: (event.at_ms, event.seq))


def seqs(events):
    return [event.seq for event in log_order(events)]


# ---------------------------------------------------------------- section 5

def why_out(binding, one, unseen):
    """Section 12: the first that holds."""
    if one in binding.taken_out:
        return "not_taken"
    if binding.needs_adding(one) and not binding.added[one]:
        return "not_added"
    if one in binding.dropped:
        return "dropped"
    return "unseen" if one in unseen else None


def step_row(binding, checkpoint, unseen):
    bound = binding.bound[checkpoint.id]
    good = binding.conforming(checkpoint)
    missing = [binding.last_state(event) for event in bound
               if is_not_verified(checkpoint, binding.last_state(event))]
    out = why_out(binding, checkpoint.id, unseen)
    reached = {"": checkpoint.least, "done": len(bound), "right": len(good)}[checkpoint.critical]
    given = Fraction(checkpoint.points * min(len(good), checkpoint.least), checkpoint.least)
    return {"id": checkpoint.id, "phase": checkpoint.phase, "points": checkpoint.points,
            "least": checkpoint.least, "most": checkpoint.most, "bound": seqs(bound),
            "redone": seqs(binding.redone[checkpoint.id]), "conforming": seqs(good),
            "not_verified": seqs(missing), "extra": seqs(binding.extra[checkpoint.id]),
            "given": 0 if out else rounded(given),
            "critical_failure": out is None and reached < checkpoint.least,
            "in_score": out is None, "why_out": out}


def met_only_unverified(binding, checkpoint):
    """Section 5: a checkpoint of `critical: right` that reaches `least` only by counting events
    not verified."""
    if checkpoint.critical != "right":
        return False
    good = [binding.last_state(event) for event in binding.conforming(checkpoint)]
    verified = [event for event in good if not is_not_verified(checkpoint, event)]
    return len(good) >= checkpoint.least > len(verified)


def steps(binding, unseen):
    rows = [step_row(binding, checkpoint, unseen) for checkpoint in binding.rubric.checkpoints]
    possible = sum(row["points"] for row in rows if row["in_score"])
    return {"given": sum(row["given"] for row in rows), "possible": possible, "rows": rows,
            "assessed": "steps" not in unseen and possible > 0}


# ---------------------------------------------------------------- section 8

def charges(binding, clock):
    """Each event of work closes the stretch of active time since the one before it."""
    charged = {phase.id: 0 for phase in binding.rubric.phases}
    unassigned = last = 0
    for event in clock.work:
        now = clock.active(event.at_ms)
        if event.seq in binding.home:
            charged[binding.home[event.seq].phase] += now - last
        else:
            unassigned += now - last
        last = now
    return charged, unassigned + clock.total() - last


def time_given(timed, spent_ms, given, possible):
    if spent_ms <= timed.target_ms:
        share = Fraction(1)
    elif spent_ms >= timed.limit_ms:
        share = Fraction(0)
    else:
        share = Fraction(timed.limit_ms - spent_ms, timed.limit_ms - timed.target_ms)
    return rounded(timed.points * share * Fraction(given, possible))


def time(binding, clock, step_rows, unseen, quiet):
    rubric = binding.rubric
    charged, unassigned = charges(binding, clock)
    rows = []
    for timed in [rubric.clock] + rubric.phases:
        mine = [row for row in step_rows if row["in_score"]
                and timed.id in ("clock", row["phase"])]
        given, possible = (sum(row[key] for row in mine) for key in ("given", "points"))
        if timed.points and possible:
            spent = clock.total() if timed.id == "clock" else charged[timed.id]
            rows.append({"id": timed.id, "spent_ms": spent, "points": timed.points,
                         "given": time_given(timed, spent, given, possible)})
    possible = sum(row["points"] for row in rows)
    sound = clock.has_start and clock.has_finish \
        and not clock.before_start() and not clock.while_paused()
    return {"assessed": sound and possible > 0 and "time" not in unseen, "possible": possible,
            "given": sum(row["given"] for row in rows), "total_ms": clock.total(),
            "charged": charged, "unassigned_ms": unassigned, "rows": rows,
            "quiet": [{"from": before.seq, "to": after.seq, "ms": stretch}
                      for before, after, stretch in quiet]}


# ---------------------------------------------------------------- section 9

def found_errors(kind, binding, clock, log, unseen):
    """The events found for one kind, each once."""
    found = [event for event in log if event.action == "error" and event.item == kind.id]
    for event in clock.work:
        matched = kind.match is not None and matches(kind.match, event) \
            and (not kind.only_unplanned or event in binding.unplanned)
        sent = any(checkpoint.extra == kind.id and checkpoint.id not in unseen
                   and event in binding.extra[checkpoint.id]
                   for checkpoint in binding.rubric.checkpoints)
        if matched or sent:
            found.append(event)
    return found


def technique(binding, clock, log, step_part, unseen):
    rubric = binding.rubric
    budget, possible = rubric.technique_points, step_part["possible"]
    at_stake = rounded(budget * Fraction(step_part["given"], possible)) if possible else 0
    rows = []
    for kind in rubric.errors:
        events = found_errors(kind, binding, clock, log, unseen)
        lost = len(events) * kind.lose
        rows.append({"id": kind.id, "severity": kind.severity, "count": len(events),
                     "lost": lost if kind.cap is None else min(lost, kind.cap),
                     "events": seqs(events)})
    return {"assessed": "technique" not in unseen and budget > 0 and possible > 0,
            "given": max(0, at_stake - sum(row["lost"] for row in rows)), "possible": budget,
            "at_stake": at_stake, "rows": rows}


# ---------------------------------------------------------------- section 10

def last_judgement(log, action, item):
    """The last in log order counts."""
    found = [event for event in log if event.action == action and event.item == item]
    return found[-1] if found else None


def product_share(measure, value):
    """Full up to good, none from poor, linear between; good > poor is the mirror."""
    share = (measure.poor - value) / (measure.poor - measure.good)
    return min(Fraction(1), max(Fraction(0), share))


def is_beyond_fail(measure, value):
    if measure.fail is None:
        return False
    return value > measure.fail if measure.good < measure.poor else value < measure.fail


def measured(measure, event):
    text = event.value.strip()
    return Fraction(text[:-len(measure.unit)].strip() if text.endswith(measure.unit) else text)


def judged(rows, name, kinds, unseen):
    """What product and rating have in common."""
    missing = [row["id"] for row in rows if row["value"] is None]
    possible = sum(kind.points for kind in kinds)
    return {"assessed": not missing and possible > 0 and name not in unseen,
            "given": sum(row["given"] for row in rows), "possible": possible,
            "missing": missing, "rows": rows}


def product(rubric, log, unseen):
    rows = []
    for measure in rubric.measures:
        event = last_judgement(log, "measure", measure.id)
        value = measured(measure, event) if event else None
        rows.append({"id": measure.id, "value": int(value * 1000) if event else None,
                     "given": rounded(measure.points * product_share(measure, value))
                     if event else 0})
    return judged(rows, "product", rubric.measures, unseen)


def measures_beyond_fail(rubric, log):
    """The measure events beyond `fail`, even if the component is otherwise not assessed."""
    found = []
    for measure in rubric.measures:
        event = last_judgement(log, "measure", measure.id)
        if event and is_beyond_fail(measure, measured(measure, event)):
            found.append((measure.id, event.seq))
    return found


def rating(rubric, log, unseen):
    rows = []
    for one in rubric.ratings:
        event = last_judgement(log, "rate", one.id)
        value = int(event.value) if event else None
        rows.append({"id": one.id, "value": value,
                     "given": rounded(one.points * Fraction(value - 1, one.steps - 1))
                     if event else 0})
    return judged(rows, "rating", rubric.ratings, unseen)
