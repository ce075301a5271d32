# SPDX-License-Identifier: GPL-3.0-or-later
# Every sample session comes to what sample_sessions/README.md worked out by hand.
set -eu
command -v python3 >/dev/null || exit 77
PYTHONPATH="$SOURCE_DIR/tests/support" PYTHONDONTWRITEBYTECODE=1 python3 - "$SOURCE_DIR" <<'PY'
import csv, glob, os, sys
import expectations

source = sys.argv[1]
folder = os.path.join(source, "sample_sessions")
wanted = {}
with open(os.path.join(folder, "README.md"), encoding="utf-8") as page:
    for line in page:
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("| larkfield-"):
            wanted[cells[0], cells[1]] = cells[2:]

faults = 0
seen = set()
components = ("steps", "order", "time", "technique", "product", "rating")
for path in sorted(glob.glob(os.path.join(folder, "*-*.csv"))):
    with open(path, encoding="utf-8", newline="") as events:
        rubric = next(csv.DictReader(events))["rubric"]
    for got in expectations.score(os.path.join(source, "rubrics", rubric + ".yaml"), path):
        name = got["session"], got["mode"]
        seen.add(name)
        cells = [expectations.points(got[component]) for component in components]
        cells += [expectations.percent_cut(got["total"]), got["outcome"], expectations.text(got["reasons"]).strip("[]")]
        if cells != wanted.get(name):
            faults += 1
            print(f"{os.path.basename(path)} {name}\n  by hand: {wanted.get(name)}\n  scored:  {cells}")
for name in set(wanted) - seen:
    faults += 1
    print(f"{name} stands in the table, but no file has it")
if len(seen) < 13:
    faults += 1
    print(f"only {len(seen)} observations were read")
print(f"{len(seen)} observations, {faults} not as worked by hand")
sys.exit(faults > 0)
PY
