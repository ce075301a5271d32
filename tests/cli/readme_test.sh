#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The README's tour runs as it stands, after the demo; its table of commands is that of the program; and what DEVELOPERS.md
# names exists.
set -u
mkdir -p build
ln -s "$BUILD_DIR" build/dev
for name in rubrics sample_sessions tests README.md DEVELOPERS.md src include; do ln -s "$SOURCE_DIR/$name" "$name"; done
status=0
complain() {
  echo "$1"
  status=1
}

bash tests/simulator/demo.sh build/dev demo >demo-said 2>&1 || { cat demo-said; exit 1; }
named=$(grep -oE 'demo/workbooks/[A-Za-z0-9-]+\.xlsx' demo-said | sort -u)
[ "$(echo "$named" | wc -l)" -eq 3 ] || complain "the demo ends by naming three files; it names: $named"
for file in $named; do [ -s "$file" ] || complain "the demo names $file, which is not there"; done
[ "$(ls demo/workbooks/*.xlsx | wc -l)" -ge 30 ] || complain "fewer workbooks than trainees"

awk '/^```sh tour$/ { on = 1; next } /^```$/ { on = 0 } on' README.md >tour.sh
[ "$(wc -l <tour.sh)" -gt 12 ] || complain "the README's tour was not found"
bash -euo pipefail tour.sh >tour-said 2>&1 || complain "the README's tour stops: $(tail -n 5 tour-said)"
for words in 'larkfield-03' 'Not yet' 'logged twice' 'did you mean "?points' 'status 1: there are faults' \
  '0 events added' '"outcome": ?"not_yet"' 'every record holds' 'copied and checked'; do
  grep -qE "$words" tour-said || complain "the tour does not say \"$words\""
done

# The table of commands.
"$BENCHTALLY" --help | awk '/^Commands:/ { on = 1; next } /^$/ { on = 0 } on' | sed -E 's/^  (.{20}).*/\1/; s/ +$//' >commands
[ "$(wc -l <commands)" -gt 10 ] || complain "the program's list of commands was not found"
while read -r command; do
  grep -qF "\`$command\`" README.md || complain "the README does not name the command $command"
  # shellcheck disable=SC2086
  "$BENCHTALLY" $command --help >help 2>&1 || complain "$command --help: status $?"
  grep -q "Example" help && grep -q "Exit status" help || complain "$command --help has no example or no exit status"
done <commands

# Files and folders that the pages name.
for page in README.md DEVELOPERS.md; do
  for path in $(grep -oE '`(src|tests|include|rubrics|sample_sessions)/[A-Za-z0-9_./-]*`' "$page" | tr -d '`' | sort -u); do
    [ -e "$path" ] || complain "$page names $path, which does not exist"
  done
done
exit $status
