# SPDX-License-Identifier: GPL-3.0-or-later
"""Compares two JSON values and names the path of the first difference."""


def difference(ours, theirs, path="", partial=False):
    """'' when equal. `partial`: objects are compared by the keys of `ours` alone."""
    if isinstance(ours, dict) and isinstance(theirs, dict):
        if not partial and sorted(ours) != sorted(theirs):
            return f"{path}: keys {sorted(set(ours) ^ set(theirs))} stand on one side only"
        for key in sorted(ours):
            if key not in theirs:
                return f"{path}.{key}: missing"
            found = difference(ours[key], theirs[key], f"{path}.{key}", partial)
            if found:
                return found
        return ""
    if isinstance(ours, list) and isinstance(theirs, list):
        for place, (mine, other) in enumerate(zip(ours, theirs)):
            found = difference(mine, other, f"{path}[{place}]", partial)
            if found:
                return found
        if len(ours) != len(theirs):
            return f"{path}: {len(ours)} against {len(theirs)} entries: {ours} against {theirs}"
        return ""
    if type(ours) is type(theirs) and ours == theirs:
        return ""
    return f"{path}: {ours!r} against {theirs!r}"
