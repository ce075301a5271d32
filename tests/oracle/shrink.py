# SPDX-License-Identifier: GPL-3.0-or-later
"""Makes a differing case small: leaves out rows and parts of the rubric while it differs."""
import copy


def without_row(rows, place):
    """The rows but one; redo numbers go on naming the same rows. None if one named it."""
    kept = copy.deepcopy(rows[:place] + rows[place + 1:])
    gone = rows[place]

    def observation(row):
        return row["session"], row["assessor"], row["mode"]
    number = sum(observation(row) == observation(gone) for row in rows[:place + 1])
    for row in kept:
        if observation(row) == observation(gone) and row["redo"].isdigit():
            if int(row["redo"]) == number:
                return None
            if int(row["redo"]) > number:
                row["redo"] = str(int(row["redo"]) - 1)
    return kept


def smaller_logs(rows):
    for session in sorted({(row["session"], row["assessor"]) for row in rows}):
        yield [row for row in rows if (row["session"], row["assessor"]) != session]
    for place in reversed(range(len(rows))):
        kept = without_row(rows, place)
        if kept:
            yield kept
    for place, row in enumerate(rows):
        for key in ("redo", "length", "hole", "use", "site"):
            if row.get(key):
                yield rows[:place] + [dict(row, **{key: ""})] + rows[place + 1:]


def paths_into(node, path=()):
    """Every place in a tree, the outer before the inner."""
    children = node.items() if isinstance(node, dict) else \
        enumerate(node) if isinstance(node, list) else ()
    for key, child in children:
        yield path + (key,)
        yield from paths_into(child, path + (key,))


def smaller_trees(tree):
    for path in list(paths_into(tree)):
        smaller = copy.deepcopy(tree)
        holder = smaller
        for key in path[:-1]:
            holder = holder[key]
        del holder[path[-1]]
        if not holder and len(path) > 1:
            continue        # an empty list is never right; its holder is tried by itself
        yield smaller


def shrink(tree, rows, still_differs):
    """`still_differs(tree, head, rows)` gives the texts when they do, else None."""
    head, texts, going = list(rows[0]), None, True
    while going:
        going = False
        for smaller in smaller_logs(rows):
            found = smaller and still_differs(tree, head, smaller)
            if found:
                rows, texts, going = smaller, found, True
                break
        if going:
            continue
        for smaller in smaller_trees(tree):
            found = still_differs(smaller, head, rows)
            if found:
                tree, texts, going = smaller, found, True
                break
    return texts
