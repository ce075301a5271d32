# SPDX-License-Identifier: GPL-3.0-or-later
"""Draws a small valid rubric: plain nested dicts, as they stand in the file."""
import itertools
from fractions import Fraction

from reading import Detail, is_allowed

SITES = ["shaft", "arch", "rim"]
WORDS = ["lag", "neutral", "locking"]
POINTS = ["0.333", "0.5", "1", "1", "1", "1.004", "1.004", "2", "2", "3", "0"]
MARKS = ["0", "12.5", "33.333", "40", "50", "50", "60", "66.667", "90"]
DOMAIN = {"use": WORDS + ["other"], "hole": list(range(-1, 9)),
          "length": [Fraction(half, 2) for half in range(15, 47)]}


def some(dice, things, least, most):
    """Between `least` and `most` of the things, in their order."""
    wanted = min(len(things), dice.randint(least, most))
    return [things[place] for place in sorted(dice.sample(range(len(things)), wanted))]


# ---------------------------------------------------------------- values and matches

def draw_details(dice):
    details = {}
    if dice.random() < 0.5:
        details["length"] = {"unit": "mm"}
        if dice.random() < 0.8:
            details["length"]["range"] = "8..40 mm"
    if dice.random() < 0.4:
        details["hole"] = {"whole": "1..6"}
    if dice.random() < 0.5:
        details["use"] = {"one_of": WORDS}
    for spec in details.values():
        if dice.random() < 0.35:
            spec["tells_apart"] = "true"
    return details


def draw_allowed(dice, name):
    """Allowed values of a detail, as `match` and `expect` write them."""
    if name == "use":
        words = some(dice, WORDS, 1, 2)
        return words if len(words) > 1 or dice.random() < 0.5 else words[0]
    if name == "hole":
        return dice.choice(["1", "2..4", "..3", "4..", ["1", "3"], ["2", "4..6"]])
    return dice.choice(["14..18 mm", "..18 mm", "14.5.. mm", "16 mm",
                        ["8..10 mm", "14 mm"], ["12..14.5 mm", "20..22 mm"]])


def draw_match(dice, actions):
    action = dice.choice(list(actions))
    match = {"action": action}
    shape = dice.random()
    if shape < 0.55:
        match["site"] = dice.choice(actions[action]["sites"])
    elif shape < 0.7:
        match["site"] = some(dice, actions[action]["sites"], 1, 2)
    chosen = {name: draw_allowed(dice, name) for name in actions[action].get("details", {})
              if dice.random() < 0.3}
    if chosen:
        match["details"] = chosen
    return match


def values_in(name, spec, allowed):
    """The values of a detail that the text of a rubric allows, out of a small domain."""
    detail = Detail(name, spec.get("unit", ""), "one_of" not in spec, False)
    ranges = detail.allowed(allowed)
    return [value for value in DOMAIN[name] if is_allowed(value, ranges)]


def extent(match, action):
    """All kinds of event that a match takes in, as a set: to tell a narrower from a wider one."""
    sites = match.get("site", SITES + [""])
    sites = sites if isinstance(sites, list) else [sites]
    axes = [[(match["action"], site) for site in sites]]
    for name, spec in action.get("details", {}).items():
        values = [None] + DOMAIN[name]
        if name in match.get("details", {}):
            values = values_in(name, spec, match["details"][name])
        axes.append(values)
    return set(itertools.product(*axes))


# ---------------------------------------------------------------- checkpoints

def draw_times(dice, repeated):
    least = dice.choice([1, 1, 2, 2, 3])
    shape = dice.uniform(0.5, 1) if repeated else dice.random()
    if shape < 0.5:
        return None
    if shape < 0.65:
        return str(least)
    if shape < 0.8:
        return {"most": str(least)}
    return {"least": str(least), "most": str(least + dice.choice([0, 1, 1, 2]))}


def draw_expect(dice, match, details):
    """What is expected of a detail overlaps with what the match lets in."""
    expect = {name: draw_allowed(dice, name) for name in details if dice.random() < 0.7}
    for name, allowed in match.get("details", {}).items():
        if name in expect and not set(values_in(name, details[name], allowed)) \
                & set(values_in(name, details[name], expect[name])):
            del expect[name]
    if expect and dice.random() < 0.25:
        expect["verify"] = "required"
    return expect


def draw_checkpoint(dice, number, actions, before, repeated):
    """`before`: matches drawn so far, so that some are the same or overlap."""
    match = dice.choice(before) if before and dice.random() < 0.25 else draw_match(dice, actions)
    before.append(match)
    checkpoint = {"id": f"c{number}", "title": f"Checkpoint {number}", "match": match}
    times = draw_times(dice, repeated)
    expect = draw_expect(dice, match, actions[match["action"]].get("details", {}))
    if times:
        checkpoint["times"] = times
    if expect:
        checkpoint["expect"] = expect
    checkpoint["points"] = dice.choice(POINTS)
    if dice.random() < 0.25:
        checkpoint["critical"] = dice.choice(["true", "done", "right", "right"])
    return checkpoint


def draw_phases(dice, actions, repeated):
    phases, before, number = [], [], 0
    for place in range(dice.choice([1, 2, 2, 3, 4])):
        phase = {"id": f"p{place + 1}", "title": f"Phase {place + 1}", "checkpoints": []}
        if dice.random() < 0.4:
            phase.update(target=dice.choice(["10 s", "20 s", "40 s", "0.5 min"]),
                         limit=dice.choice(["60 s", "1.5 min", "130 s", "0.05 h"]),
                         points=dice.choice(POINTS))
        for _ in range(dice.choice([1, 2, 2, 3, 4])):
            if number < 8:
                number += 1
                phase["checkpoints"].append(draw_checkpoint(dice, number, actions, before,
                                                            repeated))
        if phase["checkpoints"]:
            phases.append(phase)
    return phases


def put_narrower_first(rubric):
    """Section 4: the narrower of two nested matches of one phase is listed first."""
    apart = {frozenset(pair) for choice in rubric["choices"]
             for a, b in itertools.combinations(choice["options"], 2)
             for pair in itertools.product(a, b)}
    apart |= {frozenset(pair) for inject in rubric["injects"]
              for pair in itertools.product(inject.get("adds", []), inject.get("drops", []))}
    for phase in rubric["phases"]:
        found = list(phase["checkpoints"])
        taken = {one["id"]: extent(one["match"], rubric["actions"][one["match"]["action"]])
                 for one in found}
        placed = []
        while found:
            narrowest = next(one for one in found if not any(
                taken[other["id"]] < taken[one["id"]]
                and frozenset((one["id"], other["id"])) not in apart for other in found))
            found.remove(narrowest)
            placed.append(narrowest)
        phase["checkpoints"] = placed


# ---------------------------------------------------------------- order, choices, injects

def side_ids(rubric, side):
    names = side if isinstance(side, list) else [side]
    of_phase = {phase["id"]: [one["id"] for one in phase["checkpoints"]]
                for phase in rubric["phases"]}
    return [one for name in names for one in of_phase.get(name, [name])]


def has_cycle(rubric, rules):
    pairs = {(a, b) for rule in rules for a in side_ids(rubric, rule["first"])
             for b in side_ids(rubric, rule["then"])}
    while True:
        more = {(a, d) for a, b in pairs for c, d in pairs if b == c} - pairs
        if not more:
            return any(a == b for a, b in pairs)
        pairs |= more


def draw_side(dice, rubric, ids):
    shape = dice.random()
    if shape < 0.55:
        return dice.choice(ids)
    if shape < 0.75:
        return dice.choice([phase["id"] for phase in rubric["phases"]])
    return dice.sample(ids, min(len(ids), dice.choice([2, 2, 3])))


def draw_rule(dice, rubric, name, ids):
    """None when the two sides share a checkpoint."""
    first, then = draw_side(dice, rubric, ids), draw_side(dice, rubric, ids)
    if set(side_ids(rubric, first)) & set(side_ids(rubric, then)):
        return None
    rule = {"id": name, "first": first, "then": then, "lose": dice.choice(POINTS),
            "why": "Drawn by lot."}
    if dice.random() < 0.25:
        rule["by"] = dice.choice(["start", "start", "finish"])
    if dice.random() < 0.3:
        rule["critical"] = "true"
        if dice.random() < 0.2:
            del rule["lose"]
    return rule


def draw_rules(dice, rubric, prefix, ids, most, held):
    """Rules without a cycle among themselves and with those `held`."""
    rules = []
    for number in range(dice.randint(0, most)):
        rule = draw_rule(dice, rubric, f"{prefix}{number + 1}", ids)
        if rule and not has_cycle(rubric, held + rules + [rule]):
            rules.append(rule)
    return rules


def draw_choices(dice, ids):
    free, choices = list(ids), []
    dice.shuffle(free)
    for number in range(dice.choice([0, 0, 1, 1, 2])):
        options = []
        for _ in range(dice.choice([2, 2, 3])):
            option = [free.pop() for _ in range(dice.choice([1, 1, 2])) if len(free) > 1]
            if option:
                options.append(option)
        if len(options) > 1:
            choices.append({"id": f"h{number + 1}", "title": "A choice", "options": options})
    return choices


def draw_injects(dice, rubric, ids):
    taken = {one for choice in rubric["choices"] for option in choice["options"]
             for one in option}
    free = [one for one in ids if one not in taken]
    for number in range(dice.choice([0, 1, 1, 2, 3])):
        inject = {"id": f"i{number + 1}", "title": "A complication"}
        adds = some(dice, free, 0, 2)
        drops = some(dice, [one for one in free if one not in adds], 0, 2)
        suspends = [rule["id"] for rule in rubric["order"] if dice.random() < 0.3]
        kept = [rule for rule in rubric["order"] if rule["id"] not in suspends]
        rules = draw_rules(dice, rubric, f"i{number + 1}-r", ids, 2, kept)
        for key, value in (("adds", adds), ("drops", drops), ("suspends", suspends),
                           ("order", rules)):
            if value:
                inject[key] = value
        if len(inject) > 2:
            rubric["injects"].append(inject)


# ---------------------------------------------------------------- errors, product, score

def draw_errors(dice, rubric):
    kinds = []
    for number in range(dice.choice([0, 1, 2, 3, 4])):
        kind = {"id": f"e{number + 1}", "title": "An error",
                "severity": dice.choice(["minor", "minor", "minor", "major", "major", "critical"]),
                "lose": dice.choice(["0.125", "0.25", "0.5", "1"])}
        if dice.random() < 0.4:
            kind["cap"] = dice.choice(["1", "1.5", "2"])
        if dice.random() < 0.45:
            kind["match"] = draw_match(dice, rubric["actions"])
            if dice.random() < 0.5:
                kind["only"] = "unplanned"
        kinds.append(kind)
    for phase in rubric["phases"]:
        for checkpoint in phase["checkpoints"]:
            if kinds and dice.random() < 0.3:
                checkpoint["extra"] = dice.choice(kinds)["id"]
    return kinds


def draw_measures(dice):
    found = []
    for number in range(dice.choice([0, 0, 1, 2])):
        measure = {"id": f"m{number + 1}", "title": "A measure", "unit": "mm",
                   "points": dice.choice(POINTS)}
        measure.update(dice.choice([
            {"good": "1 mm", "poor": "2.5 mm"}, {"good": "1 mm", "poor": "4 mm", "fail": "4 mm"},
            {"good": "0.5 mm", "poor": "2 mm", "fail": "3 mm"}, {"good": "5 mm", "poor": "2 mm"},
            {"good": "4 mm", "poor": "3 mm", "fail": "1.5 mm"}]))
        found.append(measure)
    return found


def draw_ratings(dice):
    return [{"id": f"g{number + 1}", "title": "A rating", "points": dice.choice(POINTS),
             "scale": {str(key): "Described" for key in dice.choice([(1, 2), (1, 3, 5), (1, 4)])}}
            for number in range(dice.choice([0, 0, 1, 2]))]


def with_points(rubric):
    """The components to which the rubric gives points."""
    def any_points(things, key):
        return any(float(thing.get(key, "0")) > 0 for thing in things)
    steps = any(any_points(phase["checkpoints"], "points") for phase in rubric["phases"])
    timed = steps and any_points([rubric["clock"]], "points") \
        or any(any_points([phase], "points") and any_points(phase["checkpoints"], "points")
               for phase in rubric["phases"])
    rules = rubric["order"] + [rule for inject in rubric["injects"]
                               for rule in inject.get("order", [])]
    return [name for name, there in (
        ("steps", steps), ("order", any_points(rules, "lose")), ("time", timed),
        ("technique", steps and "technique_points" in rubric["score"]),
        ("product", any_points(rubric["measures"], "points")),
        ("rating", any_points(rubric["ratings"], "points"))) if there]


def draw_score(dice, rubric):
    score = rubric["score"] = {}
    if dice.random() < 0.75:
        score["technique_points"] = dice.choice(["1", "2.5", "6"])
    able = with_points(rubric)
    weights = {name: str(dice.choice([0, 1, 10, 40, 60])) for name in able
               if dice.random() < 0.75}
    if able and not any(weight != "0" for weight in weights.values()):
        weights[able[0]] = "50"
    score["weights"] = weights
    score["pass"] = dice.choice(MARKS)
    optional = [name for name in able if dice.random() < 0.2]
    if optional:
        score["optional"] = optional
    floors = {name: dice.choice(MARKS) for name in able
              if name not in optional and dice.random() < 0.2}
    if floors:
        score["floors"] = floors


def draw_rubric(dice, number):
    """Most are mixed; some are all about order, with many rules over much repeated steps."""
    all_order = dice.random() < 0.1
    actions = {}
    for place, name in enumerate(["cut", "plate", "screw", "wire"][:dice.choice([1, 2, 3, 4])]):
        actions[name] = {"title": name.capitalize(), "key": "abcd"[place],
                         "sites": some(dice, SITES, 1, 3)}
        details = draw_details(dice)
        if details:
            actions[name]["details"] = details
    clock = {"target": f"{dice.choice([30, 60, 90])} s", "limit": f"{dice.choice([120, 180])} s"}
    if dice.random() < 0.5:
        clock["points"] = dice.choice(POINTS)
    if dice.random() < 0.5:
        clock["quiet"] = f"{dice.choice([10, 20, 30])} s"
    rubric = {"benchtally": "1", "rubric": f"drawn-{number}", "edition": "1",
              "title": f"Drawn by lot, number {number}",
              "cautions": ["A test case; no surgery is taught here."], "clock": clock,
              "sites": {site: site.capitalize() for site in SITES}, "actions": actions,
              "phases": draw_phases(dice, actions, all_order), "injects": []}
    ids = [one["id"] for phase in rubric["phases"] for one in phase["checkpoints"]]
    rubric["order"] = draw_rules(dice, rubric, "r", ids, 9 if all_order else 4, [])
    rubric["choices"] = [] if all_order else draw_choices(dice, ids)
    if not all_order or dice.random() < 0.3:
        draw_injects(dice, rubric, ids)
    put_narrower_first(rubric)
    rubric["errors"] = draw_errors(dice, rubric)
    rubric["measures"] = draw_measures(dice)
    rubric["ratings"] = draw_ratings(dice)
    draw_score(dice, rubric)
    return {key: value for key, value in rubric.items() if value not in ({}, [])}
