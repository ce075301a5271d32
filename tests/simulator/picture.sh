#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# picture.sh DEMO FOLDER: pictures of two sheets of a workbook of the demo, for the README.
set -euo pipefail
demo=$1 folder=$2
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
soffice --headless --convert-to pdf --outdir "$work" "$demo/workbooks/R-018.xlsx" >/dev/null 2>&1
pages=$(pdfinfo "$work/R-018.pdf" | awk '/^Pages/ { print $2 }')
picture() {
  local title=$1 name=$2 page
  for ((page = 1; page <= pages; page++)); do
    if pdftotext -f $page -l $page "$work/R-018.pdf" - | head -1 | grep -q "$title"; then
      pdftoppm -r 110 -f $page -l $page -png -singlefile "$work/R-018.pdf" "$work/$name"
      # Without the footer, so that the trim takes the empty rest of the page too.
      convert "$work/$name.png" -gravity south -chop 0x75 -trim +repage -bordercolor white -border 24 \
        -strip +dither -colors 128 "$folder/$name.png"
      echo "$folder/$name.png"
      return
    fi
  done
  echo "no page titled $title"
  return 1
}
picture ': Progress' progress
picture ': Timeline' timeline
