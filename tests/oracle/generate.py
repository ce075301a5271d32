#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""Draws a valid rubric and logs against it from a seed.

    generate.py SEED FOLDER [OBSERVATIONS]

writes FOLDER/rubric.yaml and FOLDER/events.csv; the same seed gives the same bytes.
"""
import csv
import io
import os
import random
import sys

sys.dont_write_bytecode = True

import yaml                                     # noqa: E402

from random_log import HEAD, draw_rows          # noqa: E402
from random_rubric import draw_rubric           # noqa: E402


class PlainDumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):
    """No anchors: the rubric format has none."""

    def ignore_aliases(self, data):
        return True


def rubric_text(rubric):
    return yaml.dump(rubric, Dumper=PlainDumper, sort_keys=False, default_flow_style=None,
                     width=120)


def generate(seed, observations=6):
    """(text of the rubric, text of the log)"""
    dice = random.Random(seed)
    rubric = draw_rubric(dice, seed)
    out = io.StringIO()
    writer = csv.DictWriter(out, HEAD, restval="", extrasaction="ignore", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(draw_rows(dice, rubric, observations))
    return rubric_text(rubric), out.getvalue()


def write(seed, folder, observations=6):
    rubric, events = generate(seed, observations)
    os.makedirs(folder, exist_ok=True)
    for name, text in (("rubric.yaml", rubric), ("events.csv", events)):
        with open(os.path.join(folder, name), "w", encoding="utf-8", newline="") as file:
            file.write(text)


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit("usage: generate.py SEED FOLDER [OBSERVATIONS]")
    write(int(sys.argv[1]), sys.argv[2], int(sys.argv[3]) if len(sys.argv) == 4 else 6)
