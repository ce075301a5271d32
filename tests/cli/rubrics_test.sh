# SPDX-License-Identifier: GPL-3.0-or-later
# The checker has nothing to say about the six rubrics, and together they use every feature of the format.
set -eu
cd "$SOURCE_DIR"
if ! "$BENCHTALLY" rubric check rubrics/*.yaml >"$WORK/out" 2>"$WORK/said" || [ -s "$WORK/said" ]; then
  cat "$WORK/out" "$WORK/said"
  exit 1
fi
python3 -c 'import yaml' 2>/dev/null || exit 77
PYTHONDONTWRITEBYTECODE=1 python3 - <<'PY'
import glob, os, re, sys
import yaml

used, faults = set(), []

def note(path, value):
    """Which keys stand where: "phases.checkpoints.times.least"; ids and names of details are left out."""
    if isinstance(value, dict):
        for key, inside in value.items():
            parent = path.rsplit(".", 1)[-1]
            name = "*" if parent in ("sites", "actions", "expect", "scale") and key != "verify" else key
            if parent == "details":
                name = "*"
            note(f"{path}.{name}" if path else name, inside)
    elif isinstance(value, list):
        used.add(path + "[]")
        for inside in value:
            note(path, inside)
    else:
        used.add(path)
        for form, pattern in (("closed range", r"[\d.]+\.\.[\d.]+"), ("range up to", r"\.\.\d"), ("range from", r"\d+\.\.( |$)")):
            if re.match(pattern, value) and path.endswith((".expect.*", ".match.details.*")):
                used.add(form)
        if path.rsplit(".", 1)[-1] in ("critical", "by", "severity", "verify", "only"):
            used.add(f"{path}={value}")

for name in sorted(glob.glob("rubrics/*.yaml")):
    with open(name, encoding="utf-8") as file:
        rubric = yaml.load(file, yaml.BaseLoader)
    note("", rubric)
    if rubric["rubric"] + ".yaml" != os.path.basename(name):
        faults.append(f"{name} holds the rubric {rubric['rubric']}")
    phases = {phase["id"] for phase in rubric["phases"]}
    base = [c for phase in rubric["phases"] for c in phase["checkpoints"]]
    if not 12 <= len(base) <= 22:
        faults.append(f"{name} has {len(base)} checkpoints")
    faults += [f"{name}: {c['id']} has no coach line" for c in base if "coach" not in c]
    titles = [c["title"] for c in base]
    faults += [f"{name}: two checkpoints are called \"{title}\"" for title in set(titles) if titles.count(title) > 1]
    for checkpoint in base:
        expect = checkpoint.get("expect", {})
        details = rubric["actions"][checkpoint["match"]["action"]].get("details", {})
        if "verify" in expect or checkpoint.get("critical") == "right":
            faults += [f"{name}: {checkpoint['id']} hangs on {detail}, which the recorder does not ask for"
                       for detail in expect if detail != "verify" and details[detail].get("always") != "true"]
    for rule in rubric["order"]:
        for side in ("first", "then"):
            sides = rule[side] if isinstance(rule[side], list) else [rule[side]]
            used.update(f"a phase as {side}" for one in sides if one in phases)
            used.update(f"a list as {side}" for _ in sides[1:])
    for measure in rubric.get("measures", []):
        if float(measure["good"].split()[0]) > float(measure["poor"].split()[0]):
            used.add("a mirror measure")
    for inject in rubric.get("injects", []):
        used.add("a variant" if inject["title"].startswith("Variant") else "a complication")
    used.update("a component without weight" for c in ("ratings",) if c in rubric and "rating" not in rubric["score"]["weights"])
    caution = " ".join(rubric["cautions"])
    for words in ("no certificate of clinical competence", "Eye protection, gloves, suction and supervision",
                  "teaching examples", "supervising surgeon", "local protocol decide"):
        if words not in caution:
            faults.append(f"{name}: the cautions do not say \"{words}\"")

details = "actions.*.details.*."
checkpoint = "phases.checkpoints."
wanted = """benchtally rubric edition title cautions[] clock.target clock.limit clock.quiet clock.points sites.*
actions.*.title actions.*.key actions.*.sites[] phases.id phases.title phases.target phases.limit phases.points
order.id order.first order.then order.lose order.why order.critical=true order.by=start
choices.id choices.title choices.options[] injects.id injects.title injects.adds[] injects.drops[] injects.suspends[]
injects.order.id injects.order.first injects.order.then injects.order.lose injects.order.why injects.order.critical=true
errors.id errors.title errors.key errors.severity=minor errors.severity=major errors.severity=critical errors.lose errors.cap
errors.coach errors.match.action errors.match.site errors.match.details.* errors.match.details.*[] errors.only=unplanned
measures.id measures.title measures.unit measures.good measures.poor measures.fail measures.points
ratings.id ratings.title ratings.points ratings.scale.* competencies.id competencies.title competencies.from[]
score.technique_points score.weights.steps score.weights.order score.weights.time score.weights.technique
score.weights.product score.weights.rating score.pass score.floors.steps score.floors.order score.floors.technique
score.floors.product score.optional[]""".split()
wanted += [details + key for key in ("title", "unit", "range", "whole", "one_of[]", "tells_apart", "always")]
wanted += [checkpoint + key for key in (
    "id", "title", "match.action", "match.site", "match.site[]", "match.details.*", "match.details.*[]", "times", "times.least",
    "times.most", "expect.*", "expect.*[]", "expect.verify=required", "points", "critical=done", "critical=right", "extra", "coach")]
wanted += ["closed range", "range up to", "range from", "a phase as first", "a phase as then", "a list as first", "a list as then",
           "a mirror measure", "a variant", "a complication", "a component without weight"]
faults += [f"no rubric uses {feature}" for feature in wanted if feature not in used]
for fault in faults:
    print(fault)
print(f"{len(wanted)} features of the format, {len(faults)} faults")
sys.exit(bool(faults))
PY
