# SPDX-License-Identifier: GPL-3.0-or-later
"""Scores an event file with the command and compares fields of the answer with what was worked by hand.

A field is a path with dots; in a list of rows the next part is the id of a row: steps.rows.screws.given.
"""

import fractions
import json
import os
import subprocess


def run(*arguments):
    return subprocess.run([os.environ["BENCHTALLY"], *arguments], capture_output=True, text=True, timeout=60)


def score(rubric, events):
    """The observations of an event file, scored; a warning counts as a failure."""
    done = run("score", "--rubric", rubric, "--events", events, "--json")
    if done.returncode != 0 or done.stderr:
        raise AssertionError(f"score of {events}: exit {done.returncode}\n{done.stderr}")
    return json.loads(done.stdout)


def find(value, path):
    for part in path.split("."):
        if isinstance(value, list):
            rows = [row for row in value if row.get("id") == part]
            if len(rows) != 1:
                raise AssertionError(f"{path}: {len(rows)} rows \"{part}\"")
            value = rows[0]
        else:
            value = value[part]
    return value


def _row(value):
    """One row of a list, in the short form that the documents use."""
    if not isinstance(value, dict):
        return str(value)
    if "code" in value:
        return value["code"] + (f":{value['id']}" if value["id"] else "")
    if "where" in value:
        return f"{value['event']}:{value['where']}"
    if "late_event" in value:
        late = f", late {value['late_event']}" if value["late_event"] else ""
        return f"{value['checkpoint']} {value['done']} of {value['least']}{late}"
    return json.dumps(value, sort_keys=True)


def text(value):
    if isinstance(value, list):
        inside = ", ".join(_row(row) for row in value)
        return inside if value and isinstance(value[0], dict) else f"[{inside}]"
    if isinstance(value, bool) or value is None:
        return json.dumps(value)
    return str(value)


def percent_cut(total):
    """A fraction as percent with one decimal, cut."""
    tenths = fractions.Fraction(total) * 1000
    whole = tenths.numerator // tenths.denominator
    return f"{whole // 10}.{whole % 10}"


def points(component):
    """given/possible in points, or a dash when the component was not assessed."""
    if not component["assessed"]:
        return "-"
    given, possible = (fractions.Fraction(component[key], 1000) for key in ("given", "possible"))
    return f"{float(given):g}/{float(possible):g}"
