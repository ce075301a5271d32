#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# What the rubrics and guides say of wires, drills and cortices, against the tables in this folder.
set -u
cd "$SOURCE_DIR"
/usr/bin/python3 - <<'PY'
import csv, glob, re, sys
import yaml

trouble = []
# The table itself, by the formula of ASTM B258 (0.005 in at 36 gauge, 0.46 in at 0000, 39 equal ratios between).
gauges = {int(r["gauge"]): float(r["diameter_mm"]) for r in csv.DictReader(open("tests/published/wire_gauges.csv"))}
for gauge, diameter in gauges.items():
    exact = 0.127 * 92 ** ((36 - gauge) / 39)
    if abs(exact - diameter) > 0.0006:
        trouble.append(f"wire_gauges.csv: {gauge} gauge is {exact:.4f} mm by the formula, not {diameter}")

pilots = {r["screw_mm"]: r["pilot_mm"] for r in csv.DictReader(open("tests/published/screws_and_drills.csv"))}
gliding = {r["screw_mm"]: r["gliding_mm"] for r in csv.DictReader(open("tests/published/screws_and_drills.csv"))}
seen_gauges = seen_pairs = 0
texts = {name: open(name, encoding="utf-8").read() for name in
         glob.glob("rubrics/*") + glob.glob("tests/cases/*/why.md") + glob.glob("sample_sessions/README.md")}
for name, text in texts.items():
    flat = re.sub(r"\s*\n#?\s*", " ", text)
    for gauge, diameter in re.findall(r"(\d\d) (?:gauge|ga)[^.()]{0,20}\((?:\d\.\d+ mm wire, )?(\d\.\d+) mm", flat):
        seen_gauges += 1
        if int(gauge) in gauges and abs(gauges[int(gauge)] - float(diameter)) > 0.0051:
            trouble.append(f"{name}: {gauge} gauge is {gauges[int(gauge)]} mm, not {diameter}")
    for bit, screw in re.findall(r"(\d\.\d) mm(?: bit)? for (?:a|the) (\d\.\d) mm screw", flat):
        seen_pairs += 1
        if pilots.get(screw) != bit:
            trouble.append(f"{name}: the pilot hole of a {screw} mm screw is {pilots.get(screw)} mm, not {bit}")
    for bit, screw in re.findall(r"(\d\.\d) mm bit for the gliding hole of a (\d\.\d) mm lag screw", flat):
        seen_pairs += 1
        if gliding.get(screw) != bit:
            trouble.append(f"{name}: the gliding hole of a {screw} mm screw is {gliding.get(screw)} mm, not {bit}")
if seen_gauges < 2 or seen_pairs < 3:
    trouble.append(f"only {seen_gauges} gauges and {seen_pairs} pairs of screw and drill were found: the search is broken")

# Six cortices on each side of a shaft fracture (common practice): whichever way is taken, with the wedge or without it, at
# least six screws hold the plate of each bone by both cortices. A lag screw does not count.
forearm = yaml.safe_load(texts["rubrics/forearm-two-bones.yaml"])
screws = [c for phase in forearm["phases"] for c in phase["checkpoints"] if c["match"]["action"] == "screw"]
option_of = {i: n for choice in forearm["choices"] for n, option in enumerate(choice["options"]) for i in option}
added = {i for inject in forearm["injects"] for i in inject.get("adds", [])}
dropped = {i for inject in forearm["injects"] for i in inject.get("drops", [])}
for bone in ("radius-shaft", "ulna-shaft"):
    for inject in (False, True):
        for option in set(option_of.values()):
            held = sum(c.get("times", {"least": 1})["least"] for c in screws
                       if c["match"]["site"] == bone and c["match"]["details"]["use"] != "lag"
                       and option_of.get(c["id"], option) == option and c["id"] not in (dropped if inject else added))
            if held < 6:
                trouble.append(f"forearm-two-bones: {held} screws in the plate of the {bone}, option {option}, inject {inject}")
print("\n".join(trouble))
sys.exit(bool(trouble))
PY
