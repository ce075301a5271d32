#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""The oracle against cases worked by hand.

    cases.py FOLDER

Every FOLDER/*/expected.json must hold; it lists only some fields.
"""
import glob
import json
import os
import sys

sys.dont_write_bytecode = True

from compare import difference      # noqa: E402
from oracle import score_file       # noqa: E402


def main(folder):
    failed = count = 0
    for path in sorted(glob.glob(os.path.join(folder, "*", "expected.json"))):
        case = os.path.dirname(path)
        ours = score_file(os.path.join(case, "rubric.yaml"), os.path.join(case, "events.csv"))
        with open(path, encoding="utf-8") as file:
            found = difference(json.load(file), json.loads(json.dumps(ours)), partial=True)
        count, failed = count + 1, failed + bool(found)
        if found:
            print(f"{case}: expected against the oracle: {found}")
    print(f"{count} cases worked by hand, {failed} the oracle does not hold")
    return 1 if failed or not count else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
