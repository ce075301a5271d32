# SPDX-License-Identifier: GPL-3.0-or-later
"""Draws logs against a drawn rubric: good, middling and wild ones."""
from random_rubric import SITES, WORDS
from reading import COMPONENTS

HEAD = ["session", "trainee", "assessor", "rubric", "edition", "started", "mode", "time", "action",
        "site", "item", "value", "redo", "note", "length", "hole", "use"]


def checkpoints_of(rubric):
    return [one for phase in rubric["phases"] for one in phase["checkpoints"]]


def value_within(dice, allowed):
    """A value that the text of a rubric allows, bare or with its unit."""
    text = dice.choice(allowed) if isinstance(allowed, list) else allowed
    if text in WORDS:
        return text
    unit = "mm" if text.endswith("mm") else ""
    ends = text.removesuffix("mm").strip().split("..")
    value = dice.choice([end for end in ends if end])
    return value + dice.choice([" " + unit, "", ""]) if unit else value


def value_anyhow(dice, name):
    if name == "use":
        return dice.choice(WORDS + ["other", "odd"])
    if name == "hole":
        return str(dice.randint(-1, 7))
    return dice.choice(["8", "9.5", "14", "14.0 mm", "14.25", "16", "18.001", "20 mm", "45"])


class LogDrawer:
    """Draws the rows of one observation."""

    def __init__(self, dice, rubric, slip):
        self.dice, self.rubric, self.slip = dice, rubric, slip
        self.at_ms = dice.choice([0, 0, 0, 5000, 20000])
        self.rows = []

    def chance(self, share):
        return self.dice.random() < share

    def tick(self):
        self.at_ms += self.dice.choice([0, 0, 1, 500, 5000, 5000, 10000, 10000, 20000, 35000])

    def add(self, action, **fields):
        self.rows.append({"action": action, "at_ms": self.at_ms, **fields})

    # Work

    def work_for(self, checkpoint):
        """An event that fits the checkpoint, mostly conforming."""
        match, actions = checkpoint["match"], self.rubric["actions"]
        sites = match.get("site", actions[match["action"]]["sites"] + [""])
        fields = {"site": self.dice.choice(sites) if isinstance(sites, list) else sites}
        expect = checkpoint.get("expect", {})
        for name in actions[match["action"]].get("details", {}):
            if name in match.get("details", {}):
                fields[name] = value_within(self.dice, match["details"][name])
            if name in expect and not (name in fields and self.chance(0.5)):
                fields[name] = value_within(self.dice, expect[name])
            if name not in fields and self.chance(0.5) or self.chance(self.slip / 2):
                fields[name] = value_anyhow(self.dice, name)
            if self.chance(self.slip / 3):
                fields.pop(name, None)
        self.add(match["action"], **fields)

    def work_anyhow(self):
        action = self.dice.choice(list(self.rubric["actions"]))
        fields = {"site": self.dice.choice(SITES + [""])}
        for name in self.rubric["actions"][action].get("details", {}):
            if self.chance(0.7):
                fields[name] = value_anyhow(self.dice, name)
        self.add(action, **fields)

    def some_work(self):
        if self.chance(self.slip / 2):
            self.work_anyhow()
        else:
            self.work_for(self.dice.choice(checkpoints_of(self.rubric)))
        if self.chance(self.slip / 2):
            self.rows[-1]["redo"] = self.dice.choice(["yes", "yes", "number"])

    # Everything else

    def something_else(self):
        rubric, dice = self.rubric, self.dice
        kinds = [("pause", ""), ("resume", ""), ("note", ""), ("start", "")]
        kinds += [("inject", inject["id"]) for inject in rubric.get("injects", [])] * 3
        kinds += [("error", kind["id"]) for kind in rubric.get("errors", []) if "match" not in kind]
        kinds += [("unseen", dice.choice(checkpoints_of(rubric))["id"])] * 2
        if self.chance(0.3):
            kinds += [("unseen", dice.choice(COMPONENTS)), ("finish", "")]
        action, item = dice.choice(kinds)
        site = dice.choice(SITES) if action in ("error", "note") and self.chance(0.3) else ""
        self.add(action, item=item, site=site)

    def judgements(self, whole):
        """`whole`: every measure and rating, else some, some twice."""
        for measure in self.rubric.get("measures", []):
            while self.chance(0.9 if whole else 0.5):
                value = self.dice.choice(["0.5", "1", "1.234", "1.5 mm", "2", "3", "3.5 mm",
                                          "4", "4.001", "6", "-0.5"])
                self.add("measure", item=measure["id"], value=value)
                if self.chance(0.7):
                    break
        for rating in self.rubric.get("ratings", []):
            if self.chance(0.95 if whole else 0.5):
                top = max(int(key) for key in rating["scale"])
                self.add("rate", item=rating["id"], value=str(self.dice.randint(1, top)))

    # The whole

    def planned_work(self):
        """The checkpoints in rubric order, each as often as it asks: a trainee who knows."""
        wanted = []
        for checkpoint in checkpoints_of(self.rubric):
            times = checkpoint.get("times", "1")
            least = times.get("least", "1") if isinstance(times, dict) else times
            wanted += [checkpoint] * int(least)
        if self.chance(self.slip):
            self.dice.shuffle(wanted)
        return wanted

    def draw(self):
        careful = self.slip < 0.5
        if not careful and self.chance(0.3):
            self.some_work()
            self.tick()
        if self.chance(0.15 if careful else 0.3):
            self.something_else()
        if not self.chance(self.slip / 6):
            self.add("start")
        if careful or self.chance(0.5):
            self.follow_the_plan()
        else:
            self.wander()
        self.tick()
        if not self.chance(self.slip / 4):
            self.judgements(careful)
            self.add("finish")
        else:
            self.judgements(careful)
        while self.chance(self.slip / 2):
            self.tick()
            self.dice.choice([self.some_work, self.something_else])()
        return self.placed()

    def follow_the_plan(self):
        for checkpoint in self.planned_work():
            self.tick()
            if not self.chance(self.slip / 3):
                self.work_for(checkpoint)
            if self.chance(self.slip / 2):
                self.some_work()
            if self.chance(0.05 + self.slip / 4):
                self.something_else()

    def wander(self):
        for _ in range(self.dice.randint(40, 150) if self.chance(0.05) else
                       self.dice.randint(2, 16)):
            self.tick()
            (self.some_work if self.chance(0.75) else self.something_else)()

    def placed(self):
        """Rows in the order of the file: mostly by time, some moved; redo numbers name rows."""
        rows = list(self.rows)
        if self.chance(self.slip):
            for _ in range(self.dice.randint(1, 4)):
                rows.insert(self.dice.randrange(len(rows) + 1), rows.pop(
                    self.dice.randrange(len(rows)))) if rows else None
        for place, row in enumerate(rows):
            if row.get("redo") == "number":
                row["redo"] = self.named(rows, place)
        return rows

    def named(self, rows, place):
        """An earlier row, mostly of the same action; `yes` when there is none."""
        same = [other for other in range(place) if rows[other]["action"] == rows[place]["action"]]
        pool = same if same and self.chance(0.8) else range(place)
        return str(self.dice.choice(pool) + 1) if pool else "yes"


def clock_text(dice, at_ms):
    """A time as the exchange form writes it, in one of its shapes."""
    seconds, rest = divmod(at_ms, 1000)
    part = f".{rest:03d}" if rest else ""
    if dice.random() < 0.2:
        return f"{seconds}{part}"
    if dice.random() < 0.2:
        return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{part}"
    return f"{seconds // 60}:{seconds % 60:02d}{part}"


def draw_rows(dice, rubric, observations):
    """All rows of one file: those of an observation keep their order, the observations mix."""
    queues = []
    for number in range(observations):
        slip = dice.choice([0.05, 0.2, 0.2, 0.5, 0.9])
        rows = LogDrawer(dice, rubric, slip).draw() or [{"action": "note", "at_ms": 0}]
        shared = {"session": f"s{number // 2 + 1}", "trainee": f"t{number // 2 + 1}",
                  "assessor": f"a{number % 2 + 1}", "rubric": rubric["rubric"], "edition": "1",
                  "started": "2025-03-01T09:00:00Z",
                  "mode": "live" if number % 2 == 0 else dice.choice(["video", "self", "live"])}
        if shared["mode"] == "self":
            shared["assessor"] = shared["trainee"]
        queues.append([{**shared, **row, "time": clock_text(dice, row["at_ms"])} for row in rows])
    if dice.random() < 0.8:
        return [row for queue in queues for row in queue]
    mixed = []
    while any(queues):
        mixed.append(dice.choice([queue for queue in queues if queue]).pop(0))
    return mixed
