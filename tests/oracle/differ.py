#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Scores drawn cases with the command and with the oracle, and compares field by field.

    differ.py COMMAND FIRST_SEED SEEDS [--observations N] [--all] [--seconds N]

Stops at the first difference, shrinks it and prints its path, the rubric and the log; with --all it
goes on and counts the paths that differ. A drawn rubric or log that the command refuses is shown
as a difference too: the generator draws valid ones.
"""
import argparse
import collections
import csv
import io
import json
import os
import re
import subprocess
import sys
import time

sys.dont_write_bytecode = True

import yaml                                     # noqa: E402

from compare import difference                  # noqa: E402
from generate import generate, rubric_text      # noqa: E402
from oracle import score_file                   # noqa: E402
from reading import TEXT_LOADER                 # noqa: E402
from shrink import shrink                       # noqa: E402

FOLDER = "drawn"
REFUSED = "the command refuses the rubric or the log"


def put(rubric, events):
    os.makedirs(FOLDER, exist_ok=True)
    paths = []
    for name, text in (("rubric.yaml", rubric), ("events.csv", events)):
        paths.append(os.path.join(FOLDER, name))
        with open(paths[-1], "w", encoding="utf-8", newline="") as file:
            file.write(text)
    return paths


def run(command, *arguments):
    done = subprocess.run([command, *arguments], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout, done.stderr


def find_difference(command, rubric, events):
    """('' or the path, how many observations, their outcomes)"""
    rubric_path, events_path = put(rubric, events)
    status, printed, told = run(command, "score", "--rubric", rubric_path, "--events", events_path,
                                "--json")
    if status:
        return f"{REFUSED}: status {status}: {told.strip()}", 0, []
    ours = json.loads(json.dumps(score_file(rubric_path, events_path)))
    return difference(ours, json.loads(printed)), len(ours), [one["outcome"] for one in ours]


def kind_of(path):
    """A path without its numbers and values, to count differences by."""
    return re.sub(r"\[[0-9]+\]", "[]", path.split(": ")[0])


def shrunk(command, rubric, events):
    """A smaller rubric and log that differ at the same place."""
    wanted = kind_of(find_difference(command, rubric, events)[0])

    def still_differs(tree, head, rows):
        out = io.StringIO()
        writer = csv.DictWriter(out, head, lineterminator="\r\n")
        writer.writeheader()
        writer.writerows(rows)
        text = rubric_text(tree)
        try:
            found = find_difference(command, text, out.getvalue())[0]
        except (KeyError, StopIteration, IndexError, ValueError):
            return None     # no longer a rubric
        return (text, out.getvalue()) if found and kind_of(found) == wanted else None

    rows = list(csv.DictReader(io.StringIO(events)))
    return shrink(yaml.load(rubric, Loader=TEXT_LOADER), rows, still_differs) \
        or (rubric, events)


def show(seed, command, rubric, events):
    if not find_difference(command, rubric, events)[0].startswith(REFUSED):
        rubric, events = shrunk(command, rubric, events)
    print(f"seed {seed}: the oracle against the command, smallest found:")
    print(find_difference(command, rubric, events)[0])
    print(f"--- rubric.yaml\n{rubric}\n--- events.csv\n{events}", flush=True)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("command")
    parser.add_argument("first", type=int)
    parser.add_argument("seeds", type=int)
    parser.add_argument("--observations", type=int, default=10, help="of each rubric")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--seconds", type=float, default=1e9)
    options = parser.parse_args()
    began, compared, differing = time.monotonic(), 0, collections.Counter()
    outcomes, drawn = collections.Counter(), 0
    for seed in range(options.first, options.first + options.seeds):
        if time.monotonic() - began > options.seconds:
            break
        rubric, events = generate(seed, options.observations)
        path, count, found = find_difference(options.command, rubric, events)
        compared, drawn = compared + count, drawn + 1
        outcomes.update(found)
        if path and not differing[kind_of(path)]:
            show(seed, options.command, rubric, events)
        if path:
            differing[kind_of(path)] += 1
            if not options.all:
                return 1
    print(f"{drawn} rubrics, {compared} observations compared: {dict(sorted(outcomes.items()))}")
    for kind, times in differing.most_common():
        print(f"{times:6} differ at {kind}")
    return 1 if differing or compared == 0 else 0


if __name__ == "__main__":
    sys.exit(main())
