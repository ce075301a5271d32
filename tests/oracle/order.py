# SPDX-License-Identifier: GPL-3.0-or-later
"""Section 7 of the scoring law: order rules, and the two figures beside the points."""
from fractions import Fraction

from binding import BEGINNING


def counting(binding, one):
    """The first `least` bound plain events of a checkpoint, with those since overtaken."""
    return binding.ever_bound[one][:binding.rubric.checkpoint(one).least]


def find_then(rule, binding, unseen, moment):
    """The first counting event of `then`: it stands at T. None if there is none."""
    found = []
    for one in rule.then:
        if one in unseen or one in binding.taken_out:
            continue
        found += [event for event in counting(binding, one)
                  if not rule.inject or moment == BEGINNING or event.at_ms > moment]
    return min(found, key=lambda event: (event.at_ms, event.seq)) if found else None


def shortfall(one, binding, time_ms):
    """How many of how many of a checkpoint of `first` were done by T, and what came late."""
    events = counting(binding, one)
    done = [event for event in events if event.at_ms <= time_ms]
    late = [event for event in events if event.at_ms > time_ms]
    return {"checkpoint": one, "done": len(done), "least": binding.rubric.checkpoint(one).least,
            "late_event": late[0].seq if late else None}


def judge(rule, binding, unseen, moment):
    """The row of one rule."""
    row = {"id": rule.id, "applies": False, "broken": False, "then_event": None, "short": [],
           "lose": rule.lose, "given": 0, "critical": rule.critical}
    then = find_then(rule, binding, unseen, moment)
    if then is None:
        return row
    first = [one for one in rule.first
             if one not in unseen and binding.in_force_at(one, then.at_ms)]
    if not first:
        return row
    first.sort(key=[one.id for one in binding.rubric.checkpoints].index)
    state = [shortfall(one, binding, then.at_ms) for one in first]
    short = [one for one in state if one["done"] < one["least"]]
    broken = bool(short) if rule.by == "finish" else all(one["done"] == 0 for one in state)
    row.update(applies=True, broken=broken, then_event=then.seq, short=short,
               given=0 if broken else rule.lose)
    return row


def is_suspended(rule, binding, unseen, clock):
    """Section 3: an inject suspends a base rule, unless its T was at or before the inject."""
    then = find_then(rule, binding, unseen, None)
    for event, moment in clock.injects:
        inject = next(one for one in binding.rubric.injects if one.id == event.item)
        stays = then is not None and moment != BEGINNING and then.at_ms <= moment
        if rule.id in inject.suspends and not stays:
            return True
    return False


def judge_all(binding, unseen, clock):
    """Section 12: base rules not suspended, then those of each inject that happened."""
    rubric = binding.rubric
    rows = [judge(rule, binding, unseen, None) for rule in rubric.rules
            if not is_suspended(rule, binding, unseen, clock)]
    moments = {event.item: moment for event, moment in clock.injects}
    for inject in rubric.injects:
        if inject.id in moments:
            rows += [judge(rule, binding, unseen, moments[inject.id]) for rule in inject.rules]
    return rows


# ---------------------------------------------------------------- figures beside the points

def must_precede(binding, unseen, clock):
    """The pairs (c, d) with c < d: transitive closure of the base rules by `finish` that are not
    suspended, over the checkpoints of the whole rubric."""
    pairs = {(first, then) for rule in binding.rubric.rules
             if rule.by == "finish" and not is_suspended(rule, binding, unseen, clock)
             for first in rule.first for then in rule.then}
    while True:
        more = {(a, d) for a, b in pairs for c, d in pairs if b == c} - pairs
        if not more:
            return pairs
        pairs |= more


def concordance(events, less):
    """`events` are (event, checkpoint). Of the pairs that have an order, the share that kept it."""
    right = wrong = 0
    for early, c in events:
        for late, d in events:
            if (c, d) in less and early.at_ms < late.at_ms:
                right += 1
            if (c, d) in less and early.at_ms > late.at_ms:
                wrong += 1
    return Fraction(right, right + wrong) if right + wrong else None


def antichains(events, below):
    """All sets of events no two of which are related, by brute force."""
    if not events:
        yield []
        return
    head, rest = events[0], events[1:]
    yield from antichains(rest, below)
    free = [one for one in rest if (one, head) not in below and (head, one) not in below]
    for smaller in antichains(free, below):
        yield [head] + smaller


def highest_largest(events, below):
    """Of all largest antichains the one that every other is below."""
    found = list(antichains(events, below))
    size = max(len(one) for one in found)
    largest = [one for one in found if len(one) == size]

    def is_below(low, high):
        return all(any(a == b or (a, b) in below for b in high) for a in low)
    highest = [top for top in largest if all(is_below(other, top) for other in largest)]
    assert len(highest) == 1
    return highest[0]


def displaced(events, less):
    """Section 7: f << e where e must come before f but f came first."""
    by_seq = {event.seq: (event, one) for event, one in events}
    below = {(f, e) for f, (f_event, f_one) in by_seq.items() for e, (e_event, e_one)
             in by_seq.items() if (e_one, f_one) in less and f_event.at_ms < e_event.at_ms}
    related = sorted({seq for pair in below for seq in pair})   # all others are in every one
    inside = highest_largest(related, below)
    rows = []
    for event, _ in events:
        if event.seq in related and event.seq not in inside:
            early = any((event.seq, one) in below for one in inside)
            late = any((one, event.seq) in below for one in inside)
            assert early != late
            rows.append({"event": event.seq, "where": "too_early" if early else "too_late"})
    return rows


def order_figures(binding, unseen, in_score, clock):
    """Concordance and displaced steps, over the counting events of checkpoints in the score."""
    less = must_precede(binding, unseen, clock)
    events = [(event, one) for one in in_score for event in counting(binding, one)]
    events.sort(key=lambda pair: (pair[0].at_ms, pair[0].seq))
    return concordance(events, less), displaced(events, less)
