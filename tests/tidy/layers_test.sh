#!/usr/bin/env bash
# SPDX-License-Identifier: GPL-3.0-or-later
# Data flows one way: base -> model -> rubric, log -> score -> words, measure -> store -> report -> serve, cli. A file may include the
# headers of its own layer and of those to its left.
set -u
cd "$SOURCE_DIR/src"
declare -A rank=([base]=0 [model]=1 [rubric]=2 [log]=2 [score]=3 [words]=4 [measure]=4 [store]=5 [report]=6 [serve]=7 [cli]=8)
declare -A layer_of=([error]=base [base]=base [export]=base [version]=base [model]=model [rubric]=rubric [log]=log [table]=log
  [score]=score [measure]=measure [estimate]=measure [agreement]=measure [association]=measure [proportion]=measure [rate]=measure
  [curve]=measure [cusum]=measure [regression]=measure [study_curve]=report
  [reliability]=measure [mixed]=measure [severity]=measure [study_reliability]=report [standard]=measure [study_standard]=report
  [words]=words [book]=store [account]=store [review]=report [workbook]=report [study]=report [study_agreement]=report)
status=0 seen=0
while IFS=: read -r file line text; do
  from=${file%%/*}
  if [[ $text =~ \<benchtally/([a-z_]+)\.h\> ]]; then
    header=${BASH_REMATCH[1]}
    to=${layer_of[$header]:-}
    [ -n "$to" ] || { echo "$file:$line: benchtally/$header.h has no layer in this test"; status=1; continue; }
  elif [[ $text =~ \"([a-z]+)/ ]]; then
    to=${BASH_REMATCH[1]}
  else
    continue
  fi
  seen=$((seen + 1))
  if [ "$from" != "$to" ] && [ "${rank[$to]}" -ge "${rank[$from]}" ]; then
    echo "src/$file:$line: $from may not know $to"
    status=1
  fi
done < <(grep -n '#include' */*.[ch])
[ "$seen" -gt 50 ] || { echo "only $seen includes were looked at: the search is broken"; status=1; }
for folder in */; do
  [ -n "${rank[${folder%/}]:-}" ] || { echo "src/$folder has no place in the layers"; status=1; }
done
exit $status
