#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""A second, independent implementation of the scoring law, for tests.

    oracle.py RUBRIC.yaml EVENTS.csv

prints the JSON of section 12. Written from the text of the law alone, for clarity, by brute force:
displaced steps by listing every antichain, choices by listing every combination, the phases of a
log by walking it. It checks nothing: give it only what `benchtally` accepts.
"""
import json
import sys

sys.dont_write_bytecode = True

from outcome import score_observation       # noqa: E402
from points import seqs                     # noqa: E402
from reading import read_events, read_rubric    # noqa: E402


def fraction_text(exact):
    return None if exact is None else f"{exact.numerator}/{exact.denominator}"


def lists(scored):
    """Section 12: the lists of sequence numbers beside the components."""
    binding, clock = scored.binding, scored.clock
    return {"unplanned": seqs(binding.unplanned),
            "extra": seqs([event for events in binding.extra.values() for event in events]),
            "overtaken": seqs(binding.overtaken), "ignored": seqs(clock.ignored),
            "after_end": seqs(clock.after_end), "before_start": seqs(clock.before_start()),
            "while_paused": seqs(clock.while_paused()),
            "taken_as_redo": seqs(binding.taken_as_redo),
            "redo_of_nothing": seqs(binding.redo_of_nothing),
            "unseen": seqs(scored.unseen_events)}


def as_json(rubric, observation):
    """Section 12: one object an observation."""
    scored, taken = score_observation(rubric, observation.log)
    parts = dict(scored.parts)
    parts["order"] = dict(parts["order"],
                          concordance=fraction_text(parts["order"]["concordance"]))
    return {"session": observation.session, "trainee": observation.trainee,
            "assessor": observation.assessor, "mode": observation.mode, "rubric": rubric.id,
            "edition": rubric.edition, "outcome": scored.outcome, "reasons": scored.reasons,
            "total": fraction_text(scored.total), "finished": scored.clock.has_finish,
            "choices": {choice: option
                        for (choice, _), option in zip(rubric.choices, taken)},
            "injects": [{"id": event.item, "event": event.seq}
                        for event, _ in scored.clock.injects],
            **parts, **lists(scored)}


def score_file(rubric_path, events_path, struck=()):
    rubric = read_rubric(rubric_path)
    return [as_json(rubric, one) for one in read_events(events_path, rubric, struck)]


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit("usage: oracle.py RUBRIC.yaml EVENTS.csv")
    print(json.dumps(score_file(sys.argv[1], sys.argv[2]), indent=1, sort_keys=True))
