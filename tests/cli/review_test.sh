#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# The review of a session: its numbers are the engine's, every link leads somewhere, page and print say the same, the same
# book gives the same bytes, and what cannot be made is said and leaves nothing.
set -u
. "$SOURCE_DIR/tests/support/cli.sh"
"$BENCHTALLY" rubric add "$SOURCE_DIR"/rubrics/*.yaml >/dev/null
"$BENCHTALLY" person add --from "$SOURCE_DIR/sample_sessions/people.csv" >/dev/null
expect 0 '' "$BENCHTALLY" import "$SOURCE_DIR"/sample_sessions/*-*.csv
"$BENCHTALLY" score --json >scores.json
mkdir reviews

# Every sample session, against the engine.
sessions=$(python3 -c 'import json; print(*sorted({s["session"] for s in json.load(open("scores.json"))}))')
for session in $sessions; do
  expect 0 "reviews/$session.pdf" "$BENCHTALLY" review "$session" --out reviews
  pdftotext -raw "reviews/$session.pdf" "reviews/$session.txt"
  python3 "$SOURCE_DIR/tests/cli/review_reader.py" scores.json "$session" live "reviews/$session.html" "reviews/$session.txt" ||
    complain "the review of $session differs from its score"
  qpdf --check "reviews/$session.pdf" >qpdf.out 2>&1 || complain "the PDF of $session: $(cat qpdf.out)"
  pdffonts "reviews/$session.pdf" | awk 'NR > 2 && $(NF - 4) != "yes" { exit 1 }' ||
    complain "a typeface of $session.pdf is not embedded"
done
pdfinfo reviews/larkfield-02.pdf | grep -q '^Title: *A mandible' || complain "the PDF has no title"
[ "$(qpdf --json reviews/larkfield-02.pdf | python3 -c 'import json, sys; print(len(json.load(sys.stdin)["outlines"]))')" -ge 9 ] ||
  complain "the PDF has no bookmarks"

# On a narrow screen only tables move sideways, not the page: a copy with a script in it measures itself.
if command -v chromium >/dev/null; then
  sed -e 's|</body>|<script>document.body.dataset.over = \
    document.documentElement.scrollWidth - innerWidth</script></body>|' reviews/larkfield-03.html >narrow.html
  chromium --headless --no-sandbox --user-data-dir="$WORK/chromium" --window-size=320,800 --dump-dom narrow.html \
    >narrow.out 2>/dev/null
  over=$(sed -n 's/.*<body[^>]* data-over="\(-*[0-9]*\)".*/\1/p' narrow.out)
  [ "${over:-1}" -le 0 ] || complain "the page is ${over:-not measured} pixels wider than a narrow screen"
fi

# The other observation of a session, and a trainee's own, which decides nothing.
mkdir others
expect 0 '' "$BENCHTALLY" review larkfield-08 --mode video --out others
pdftotext -raw others/larkfield-08.pdf others/video.txt
python3 "$SOURCE_DIR/tests/cli/review_reader.py" scores.json larkfield-08 video others/larkfield-08.html others/video.txt ||
  complain "the review of the video differs from its score"
grep -q 'is the one that counts' others/larkfield-08.html || complain "that another observation counts is not said"
expect 0 '' "$BENCHTALLY" review larkfield-09 --mode self --html --out others
grep -q 'it decides nothing' others/larkfield-09.html || complain "that the own record decides nothing is not said"
[ ! -e others/larkfield-09.pdf ] || complain "--html makes a PDF too"

# The same bytes: later, in another time zone, with a decimal comma. Another paper is another.
mkdir again
sleep 1.1
locales=()
mkdir locales
localedef -i de_DE -f UTF-8 "$WORK/locales/de_DE.UTF-8" 2>/dev/null && locales=(LOCPATH="$WORK/locales" LC_ALL=de_DE.UTF-8)
expect 0 '' env TZ=Pacific/Auckland "${locales[@]}" "$BENCHTALLY" review larkfield-02 --out again
cmp reviews/larkfield-02.html again/larkfield-02.html || complain "the page differs when made again"
cmp reviews/larkfield-02.pdf again/larkfield-02.pdf || complain "the PDF differs when made again"
expect 0 '' "$BENCHTALLY" review larkfield-02 --pdf --letter --out again
pdfinfo again/larkfield-02.pdf | grep -q '612 x 792' || complain "--letter is no letter paper"

# Refusals.
expect 2 'no session "larkfield-99"' "$BENCHTALLY" review larkfield-99
expect 2 'no such folder' "$BENCHTALLY" review larkfield-02 --out nowhere
expect 2 'live, video or self' "$BENCHTALLY" review larkfield-02 --mode film
expect 2 'no observation by AS-9' "$BENCHTALLY" review larkfield-02 --assessor AS-9

# No room on the disk, no typeface: an error and no file; a former file stays.
mkdir full
cp reviews/larkfield-02.pdf full/
(ulimit -f 40; "$BENCHTALLY" review larkfield-02 --pdf --out full >out 2>err)
[ $? -eq 3 ] || complain "a full disk: exit status not 3: $(cat err)"
cmp reviews/larkfield-02.pdf full/larkfield-02.pdf || complain "a full disk spoils the former file"
[ "$(ls full)" = larkfield-02.pdf ] || complain "a full disk leaves $(ls full)"
mkdir bare
echo '<fontconfig><dir>/nowhere</dir></fontconfig>' >bare.conf
FONTCONFIG_FILE=$WORK/bare.conf "$BENCHTALLY" review larkfield-02 --out bare >out 2>err
[ $? -eq 3 ] || complain "without the typeface: exit status not 3: $(cat err)"
grep -q 'fonts-dejavu-core' err || complain "without the typeface no advice: $(cat err)"
[ -z "$(ls bare)" ] || complain "without the typeface this is left: $(ls bare)"

# Each review is on the book's chain, and the chain holds.
[ "$(sqlite3 "$BENCHTALLY_BOOK" "SELECT count(*) FROM book_entry WHERE kind = 'export'")" -ge 20 ] ||
  complain "the reviews are not on the book's chain"
expect 0 'every record holds' "$BENCHTALLY" verify
finish
