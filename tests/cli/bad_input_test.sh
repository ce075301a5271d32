#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Bad input gets a named place, what was expected and what to do; and the book is as it was.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
small_book
head='session,trainee,assessor,rubric,edition,started,mode,time,action,site,item,value,redo,note,length'
row='S-1,T-1,A-1,forearm-two-bones,1,2026-03-04T09:00:00Z,live'
good="$head
$row,0:00,start,,,,,,
$row,1:00,screw,radius-shaft,,,,,14
$row,2:00,finish,,,,,,"

before=$(dump "$BENCHTALLY_BOOK")
# refuses NAME TEXT WORDS: an import of TEXT is refused with WORDS, and the book is as it was.
refuses() {
  printf '%s' "$2" >"$1"
  expect 2 "$3" "$BENCHTALLY" import "$1"
  [ "$(dump "$BENCHTALLY_BOOK")" = "$before" ] || complain "$1: the book has changed"
}

refuses columns.csv "${good/action/acton}" 'columns\.csv:1.*no column action.*acton'
refuses missing.csv "$(printf '%s\n' "$good" | cut -d, -f1-8)" 'missing\.csv:1.*action'
refuses time.csv "${good/1:00,screw/1:0x,screw}" 'time\.csv:3.*time.*1:0x'
refuses minutes.csv "${good/1:00,screw/1:75,screw}" 'minutes\.csv:3.*1:75'
refuses trainee.csv "${good//T-1/T-9}" 'trainee\.csv:2.*T-9.*person add'
refuses assessor.csv "${good//A-1/A-9}" 'assessor\.csv:2.*A-9.*person add'
refuses site.csv "${good/radius-shaft/radius-shift}" 'site\.csv:3.*radius-shift.*did you mean "?radius-shaft'
refuses action.csv "${good/screw/scrwe}" 'action\.csv:3.*scrwe.*did you mean "?screw'
refuses kind.csv "$good
$row,1:30,error,,no-such-kind,,,," 'kind\.csv:5.*no-such-kind'
refuses scale.csv "$good
$row,2:30,rate,,$(awk '/^ratings:/ {getline; print}' "$SOURCE_DIR/rubrics/forearm-two-bones.yaml" | grep -oE 'id: [a-z-]+' | cut -c5-),99,,," 'scale\.csv:5.*99'
refuses mixed.csv "$good
S-1,T-2,A-1,forearm-two-bones,1,2026-03-04T09:00:00Z,live,3:00,note,,,,,," 'mixed\.csv:5.*T-1'
refuses quote.csv "${good/radius-shaft/\"radius-shaft}" 'quote\.csv:3.*quote'
refuses semicolon.csv "${good//,/;}" 'semicolon\.csv:1.*semicolon'
refuses latin1.csv "${good/,14/,14}$(printf '\n%s,2:10,note,,,,,B\xfcrste,' "$row")" 'latin1\.csv:5.*UTF-8'
refuses rubric.csv "${good//forearm-two-bones/forearm-two-bone}" 'rubric\.csv:2.*forearm-two-bone.*did you mean "?forearm-two-bones'
refuses edition.csv "${good//,1,2026/,7,2026}" 'edition\.csv:2.*7'
refuses started.csv "${good//2026-03-04T09:00:00Z/4.3.2026}" 'started\.csv:2.*started.*4\.3\.2026'
refuses fields.csv "${good/,14/}" 'fields\.csv:3.*15'
refuses empty.csv '' 'empty\.csv.*empty'
refuses header.csv "$head" 'header\.csv'
refuses redo.csv "${good/,,,,14/,,77,,14}" 'redo\.csv:3.*77'
refuses detail.csv "${good/,14/,long}" 'detail\.csv:3.*length.*long'
refuses broken.jsonl '{"session":"S-1","session":"S-2"}' 'broken\.jsonl:1'
expect 2 'no-such-file\.csv' "$BENCHTALLY" import no-such-file.csv
expect 2 '' "$BENCHTALLY" import .

# Two files, the second faulty: the first is in, nothing of the second.
printf '%s\n' "$good" >one.csv
printf '%s\n' "${good//S-1/S-2}" | sed 's/1:00,screw/x,screw/' >two.csv
expect 2 'two\.csv:3' "$BENCHTALLY" import one.csv two.csv
expect 0 '^S-1 ' "$BENCHTALLY" sessions
"$BENCHTALLY" sessions | grep -q S-2 && complain "something of a faulty file is in the book"

# A byte order mark, CRLF and rows in any order are no faults; the same again adds nothing; other content is refused.
{ printf '\xef\xbb\xbf'; printf '%s\n' "${good//S-1/S-3}" | sed 's/$/\r/'; } >bom.csv
expect 0 '3 events added' "$BENCHTALLY" import bom.csv
expect 0 '0 events added.*3 events.*already there' "$BENCHTALLY" import bom.csv
sed 's/,14/,16/' bom.csv >other.csv
expect 2 'other\.csv' "$BENCHTALLY" import other.csv
expect 0 'every record holds' "$BENCHTALLY" verify

# Books that are none, newer, locked, read-only, truncated.
echo "not a database, but long enough to look at: $(seq 200)" >text.db
expect 2 'text\.db.*no book' "$BENCHTALLY" --book text.db sessions
sqlite3 other.db 'CREATE TABLE t(a); INSERT INTO t VALUES (1)'
expect 2 'other\.db.*no book' "$BENCHTALLY" --book other.db sessions
expect 2 'missing\.db' "$BENCHTALLY" --book missing.db sessions
cp "$BENCHTALLY_BOOK" newer.db
sqlite3 newer.db 'PRAGMA user_version = 999' >/dev/null
expect 2 'newer' "$BENCHTALLY" --book newer.db sessions
cp "$BENCHTALLY_BOOK" cut.db
truncate -s 20000 cut.db
"$BENCHTALLY" --book cut.db verify >"$WORK/out" 2>&1
[ $? -ne 0 ] || complain "a truncated book verifies"
grep -qE 'damaged|malformed|backup' "$WORK/out" || complain "a truncated book: $(head -c 300 "$WORK/out")"
cp "$BENCHTALLY_BOOK" locked.db
sqlite3 locked.db 'PRAGMA journal_mode=DELETE' >/dev/null
coproc LOCK { sqlite3 locked.db 2>&1; }
lock_pid=$LOCK_PID # bash forgets its own once the process has ended
printf 'BEGIN EXCLUSIVE; SELECT 7;\n' >&"${LOCK[1]}"
read -r _ <&"${LOCK[0]}"
expect 3 'another program|busy|locked' "$BENCHTALLY" --book locked.db import one.csv
printf '.quit\n' >&"${LOCK[1]}"
wait "$lock_pid" 2>/dev/null

# Output that cannot be written.
expect 2 'no-such-folder' "$BENCHTALLY" workbook T-1 --out no-such-folder
expect 2 'T-77' "$BENCHTALLY" workbook T-77
expect 2 'T-2.*session' "$BENCHTALLY" workbook T-2
for command in 'sessions' 'score S-1' 'score S-1 --json' 'log S-1 --all' 'rubric list' 'person list' 'verify' '--help'; do
  # shellcheck disable=SC2086
  "$BENCHTALLY" $command >/dev/full 2>err
  [ $? -eq 3 ] || complain "$command: a full disk behind standard output goes unnoticed"
done

# Options and names.
expect 2 'did you mean .benchtally workbook' "$BENCHTALLY" workbok
expect 2 'did you mean .benchtally rubric check' "$BENCHTALLY" rubric chek
expect 2 'no-such' "$BENCHTALLY" score no-such
expect 2 'go together' "$BENCHTALLY" score --rubric x.yaml
expect 2 'reason' "$BENCHTALLY" strike S-1 2
expect 2 'no event' "$BENCHTALLY" strike S-1 99 --reason x
expect 2 'event number' "$BENCHTALLY" strike S-1 two --reason x
expect 2 'role' "$BENCHTALLY" person add T-3
expect 2 'code' "$BENCHTALLY" person add 'T 3' --role trainee
expect 2 'T-1' "$BENCHTALLY" person add T-1 --role assessor
expect 2 'terminal' "$BENCHTALLY" record S-9 --trainee T-1 --assessor A-1 --rubric arch-bars
finish
