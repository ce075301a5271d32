# SPDX-License-Identifier: GPL-3.0-or-later
# The examples of the authors' guide and of the scoring handbook hold. Fenced blocks:
#   yaml rubric    a complete rubric; the checker has nothing to say
#   yaml part      sections that take the place of those of the last complete rubric; the result is checked
#   yaml faulty    a rubric with faults; the "says" block after it holds every line of the checker
#   csv events     one observation, its constant columns and trailing commas left out; scored by the last complete rubric
#   expect         fields of that score; "rubric: ID" goes back to another rubric of the page
set -eu
command -v python3 >/dev/null || exit 77
PYTHONPATH="$SOURCE_DIR/tests/support" PYTHONDONTWRITEBYTECODE=1 python3 - "$SOURCE_DIR" <<'PY'
import csv, os, re, sys
import expectations

FENCE = re.compile(r"^```([a-z]+(?: [a-z]+)?)\n(.*?)^```$", re.M | re.S)
SECTION = re.compile(r"^([a-z]+):.*\n(?:(?![a-z]).*\n)*", re.M)


class Page:
    def __init__(self, path):
        self.name = os.path.basename(path)
        with open(path, encoding="utf-8") as page:
            self.text = page.read()
        self.rubrics, self.current, self.events = {}, None, None
        self.faults, self.ran, self.where = 0, {}, 0

    def wrong(self, what):
        self.faults += 1
        print(f"{self.name}:{self.where}: {what}")

    def check(self, text):
        with open("rubric.yaml", "w", encoding="utf-8") as file:
            file.write(text)
        return expectations.run("rubric", "check", "rubric.yaml")

    def must_pass(self, text):
        done = self.check(text)
        if done.returncode != 0 or done.stderr:
            self.wrong(f"exit {done.returncode}: {done.stderr}")

    def yaml_rubric(self, text):
        self.must_pass(text)
        self.current = re.search(r"^rubric: (.*)$", text, re.M).group(1)
        self.rubrics[self.current] = text

    def yaml_part(self, text):
        parts = {match.group(1): match.group(0) for match in SECTION.finditer(text)}
        whole = SECTION.sub(lambda match: parts.pop(match.group(1), match.group(0)), self.rubrics[self.current])
        self.must_pass(whole + "".join(parts.values()))

    def yaml_faulty(self, text):
        self.events = None
        self.said = self.check(text)

    def says(self, text):
        if self.said.returncode != 1 or self.said.stderr != text or not text:
            self.wrong(f"exit {self.said.returncode}, the checker says:\n{self.said.stderr}")

    def csv_events(self, text):
        head, *rows = csv.reader(text.splitlines())
        self.events = [dict(zip(head, row)) for row in rows]

    def write_events(self, rubric):
        same = {"session": "s1", "trainee": "t1", "assessor": "a1", "rubric": rubric, "started": "2026-03-01T09:00:00Z",
                "edition": re.search(r"^edition: (.*)$", self.rubrics[rubric], re.M).group(1), "mode": "live"}
        names = list(same) + ["time", "action", "site", "item", "value", "redo", "note"]
        names += [name for name in dict.fromkeys(key for row in self.events for key in row) if name not in names]
        with open("events.csv", "w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, names, restval="")
            out.writeheader()
            out.writerows({**same, **row} for row in self.events)

    def expect(self, text):
        lines = text.splitlines()
        if lines[0].startswith("rubric: "):
            self.current = lines.pop(0)[len("rubric: "):]
        rubric = self.current
        with open("rubric.yaml", "w", encoding="utf-8") as file:
            file.write(self.rubrics[rubric])
        self.write_events(rubric)
        try:
            got = expectations.score("rubric.yaml", "events.csv")[0]
        except AssertionError as error:
            return self.wrong(error)
        for line in lines:
            path, wanted = line.split(" = ")
            value = expectations.text(expectations.find(got, path))
            if value != wanted:
                self.wrong(f"{path}: worked by hand {wanted}, scored {value}")

    def run(self):
        for match in FENCE.finditer(self.text):
            kind, text = match.groups()
            self.where = self.text.count("\n", 0, match.start()) + 1
            act = getattr(self, kind.replace(" ", "_"), None)
            if not act:
                self.wrong(f"a block of an unknown kind, {kind}")
                continue
            act(text)
            self.ran[kind] = self.ran.get(kind, 0) + 1
        print(f"{self.name}: {self.ran}, {self.faults} faults")


guide = Page(os.path.join(sys.argv[1], "rubrics", "README.md"))
handbook = Page(os.path.join(sys.argv[1], "rubrics", "SCORING.md"))
for page in guide, handbook:
    page.run()
enough = handbook.ran.get("expect", 0) >= 15 and guide.ran.get("yaml part", 0) >= 10 and guide.ran.get("says", 0) >= 5
if not enough:
    print("fewer examples were run than the pages hold")
sys.exit(not enough or guide.faults + handbook.faults > 0)
PY
