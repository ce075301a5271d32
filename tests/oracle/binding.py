# SPDX-License-Identifier: GPL-3.0-or-later
"""Sections 2 to 5 of the scoring law: the clock, checkpoints in force, binding, what conforms."""
from dataclasses import dataclass, field

from reading import BUILT_IN, is_allowed

COUNT_AFTER_END = ["error", "rate", "measure", "note", "unseen"]
NEVER_THE_END = ["rate", "measure", "note"]
BEGINNING = -1          # the moment of an inject that was there from the beginning


def is_work(event):
    return event.action not in BUILT_IN


# ---------------------------------------------------------------- section 2

@dataclass
class Clock:
    t0_ms: int
    has_start: bool
    has_finish: bool
    end_index: int                                  # place of the end in the log; -1: none
    end_ms: int
    pauses: list = field(default_factory=list)      # of [from, to]; to None while open
    ignored: list = field(default_factory=list)
    after_end: list = field(default_factory=list)
    injects: list = field(default_factory=list)     # of (inject event, its moment)
    work: list = field(default_factory=list)        # work up to the end, in log order

    def active(self, at_ms):
        """Unpaused time from t0 to `at_ms`, no later than the end."""
        total = max(0, at_ms - self.t0_ms)
        for begin, finish in self.pauses:
            last = self.end_ms if finish is None else finish
            total -= max(0, min(at_ms, last) - begin)
        return total

    def total(self):
        return self.active(self.end_ms)

    def before_start(self):
        return [event for event in self.work if event.at_ms < self.t0_ms]

    def while_paused(self):
        return [event for event in self.work
                if any(begin < event.at_ms and (finish is None or event.at_ms < finish)
                       for begin, finish in self.pauses)]


def find_bounds(log):
    """Section 2: t0 and the end. Before and after are meant in log order."""
    starts = [place for place, event in enumerate(log) if event.action == "start"]
    start = starts[0] if starts else -1
    t0_ms = log[start].at_ms if starts else 0
    finishes = [place for place, event in enumerate(log)
                if event.action == "finish" and place > start]
    others = [place for place, event in enumerate(log) if event.action not in NEVER_THE_END]
    end = finishes[0] if finishes else (others[-1] if others else -1)
    end_ms = log[end].at_ms if end >= 0 else t0_ms
    return start, Clock(t0_ms, bool(starts), bool(finishes), end, end_ms)


def read_clock(log):
    """Section 2: which events count, which are ignored, which come after the end."""
    start, clock = find_bounds(log)
    for place, event in enumerate(log):
        if place > clock.end_index and event.action not in COUNT_AFTER_END:
            clock.after_end.append(event)
        elif is_work(event):
            clock.work.append(event)
        elif not control_counts(clock, event, place < start, place == start):
            clock.ignored.append(event)
    return clock


def control_counts(clock, event, before_start, is_the_start):
    """Section 2: takes in one start, finish, pause, resume or inject; False if it is ignored."""
    paused = bool(clock.pauses) and clock.pauses[-1][1] is None
    if event.action == "start":
        return is_the_start
    if event.action == "finish":
        return not before_start
    if event.action == "pause":
        if before_start or paused:
            return False
        clock.pauses.append([event.at_ms, None])
    if event.action == "resume":
        if before_start or not paused:
            return False
        clock.pauses[-1][1] = event.at_ms
    if event.action == "inject":
        if event.item in [earlier.item for earlier, _ in clock.injects]:
            return False
        moment = BEGINNING if event.at_ms <= clock.t0_ms else event.at_ms
        clock.injects.append((event, moment))
    return True


def quiet_stretches(log, clock, quiet_ms):
    """Section 2: two consecutive events whose active times differ by more than clock.quiet."""
    found = []
    for place in range(1, clock.end_index + 1):
        before, after = log[place - 1], log[place]
        stretch = clock.active(after.at_ms) - clock.active(before.at_ms)
        if quiet_ms is not None and stretch > quiet_ms:
            found.append((before, after, stretch))
    return found


# ---------------------------------------------------------------- section 5: what conforms

def conforms(checkpoint, event):
    """Section 5: no detail of `expect` logged with a value not allowed, nor one missing that must
    be verified."""
    for name, ranges in checkpoint.expect.items():
        if name not in event.details:
            if checkpoint.verify_required:
                return False
        elif not is_allowed(event.details[name], ranges):
            return False
    return True


def is_not_verified(checkpoint, event):
    """Section 5: a detail of `expect` was not logged, and the rubric did not require it."""
    return not checkpoint.verify_required and \
        any(name not in event.details for name in checkpoint.expect)


# ---------------------------------------------------------------- sections 3 and 4

def matches(match, event):
    """Section 4: the action, the site when given, each detail logged with an allowed value."""
    return match.action == event.action \
        and (match.sites is None or event.site in match.sites) \
        and all(name in event.details and is_allowed(event.details[name], ranges)
                for name, ranges in match.details.items())


class Binding:
    """What every event of work came to be, with the options `taken_out` out of the rubric."""

    def __init__(self, rubric, clock, taken_out):
        self.rubric = rubric
        self.taken_out = taken_out
        ids = [one.id for one in rubric.checkpoints]
        self.bound = {one: [] for one in ids}       # plain bound events, in log order
        self.ever_bound = {one: [] for one in ids}  # the same, with those since overtaken
        self.redone = {one: [] for one in ids}      # those that stand in
        self.extra = {one: [] for one in ids}
        self.stand_ins = {}                         # bound seq -> events; the last counts
        self.stands_for = {}                        # seq of a redo -> the bound event
        self.home = {}                              # seq -> checkpoint; none if unplanned
        self.unplanned, self.overtaken = [], []
        self.redo_of_nothing, self.taken_as_redo = [], []
        self.added = {one: [] for one in ids}       # moments
        self.dropped = {}                           # checkpoint -> moment it left
        self.phase_last = None
        self.run(clock)

    def run(self, clock):
        """Sections 3 and 4 in log order; injects from the beginning come before everything."""
        for event, moment in clock.injects:
            if moment == BEGINNING:
                self.take_inject(event, moment)
        later = [event for event, moment in clock.injects if moment != BEGINNING]
        for event in sorted(clock.work + later, key=lambda one: (one.at_ms, one.seq)):
            if event in later:
                self.take_inject(event, event.at_ms)
            elif event.redo:
                self.take_redo(event)
            else:
                self.take_plain(event)

    # Section 3

    def take_inject(self, event, moment):
        inject = next(one for one in self.rubric.injects if one.id == event.item)
        for one in inject.adds:
            self.added[one].append(moment)
        for one in inject.drops:
            checkpoint = self.rubric.checkpoint(one)
            if len(self.conforming(checkpoint)) < checkpoint.least:
                self.drop(one, moment)

    def drop(self, one, moment):
        """Its bound events, and the redos that stood in for them, are overtaken."""
        self.dropped.setdefault(one, moment)
        self.overtaken += self.bound[one] + self.redone[one]
        self.bound[one], self.redone[one] = [], []

    def needs_adding(self, one):
        return any(one in inject.adds for inject in self.rubric.injects)

    def in_force_now(self, one):
        return one not in self.taken_out and one not in self.dropped \
            and (not self.needs_adding(one) or bool(self.added[one]))

    def in_force_at(self, one, time_ms):
        """Section 7: an inject at the time T is after T, one from the beginning before every T."""
        if one in self.taken_out or (one in self.dropped and self.dropped[one] < time_ms):
            return False
        return not self.needs_adding(one) or any(at < time_ms for at in self.added[one])

    # Section 4

    def last_state(self, event):
        return self.stand_ins.get(event.seq, [event])[-1]

    def conforming(self, checkpoint):
        return [event for event in self.bound[checkpoint.id]
                if conforms(checkpoint, self.last_state(event))]

    def agree(self, event, other):
        """Same site, and details that tell apart agree wherever both were logged."""
        apart = [name for name, detail in self.rubric.details[event.action].items()
                 if detail.tells_apart]
        return event.site == other.site and \
            all(event.details[name] == other.details[name] for name in apart
                if name in event.details and name in other.details)

    def bind(self, event, checkpoint):
        self.bound[checkpoint.id].append(event)
        self.ever_bound[checkpoint.id].append(event)
        self.home[event.seq] = checkpoint
        self.phase_last = checkpoint.phase

    def stand_in(self, event, target):
        checkpoint = self.home[target.seq]
        self.stand_ins.setdefault(target.seq, []).append(event)
        self.stands_for[event.seq] = target
        self.redone[checkpoint.id].append(event)
        self.home[event.seq] = checkpoint
        self.phase_last = checkpoint.phase

    def take_plain(self, event):
        fitting = [one for one in self.rubric.checkpoints
                   if self.in_force_now(one.id) and matches(one.match, event)]
        if not fitting:
            self.unplanned.append(event)
            return
        wanting = [one for one in fitting if len(self.bound[one.id]) < one.least]
        here = [one for one in wanting if one.phase == self.phase_last]
        room = [one for one in fitting if len(self.bound[one.id]) < one.most]
        for candidates in (here, wanting, room):
            if candidates:
                self.bind(event, candidates[0])
                return
        target = self.plain_mends(event, fitting)
        if target:
            self.stand_in(event, target)
            self.taken_as_redo.append(event)
        else:
            self.extra[fitting[0].id].append(event)
            self.home[event.seq] = fitting[0]

    def plain_mends(self, event, full):
        """The earliest event of the first full checkpoint that is bad where this would conform."""
        for checkpoint in full:
            for held in self.bound[checkpoint.id]:
                if self.agree(held, event) and conforms(checkpoint, event) \
                        and not conforms(checkpoint, self.last_state(held)):
                    return held
        return None

    def take_redo(self, event):
        target = self.redo_named(event) if event.redo != "yes" else self.redo_searched(event)
        if target:
            self.stand_in(event, target)
        else:
            self.redo_of_nothing.append(event)
            self.take_plain(event)

    def all_bound(self):
        """Plain bound events so far, in log order."""
        return sorted((event for events in self.bound.values() for event in events),
                      key=lambda one: (one.at_ms, one.seq))

    def redo_named(self, event):
        """A number that names a redo means the event it stands in for."""
        seq = int(event.redo)
        if seq in self.stands_for:
            seq = self.stands_for[seq].seq
        for held in self.all_bound():
            if held.seq == seq and held.action == event.action:
                return held
        return None

    def redo_searched(self, event):
        """The latest that does not conform at that point, or if all conform, the latest."""
        held = [one for one in self.all_bound()
                if one.action == event.action and self.agree(one, event)]
        bad = [one for one in held if not conforms(self.home[one.seq], self.last_state(one))]
        return (bad or held or [None])[-1]
