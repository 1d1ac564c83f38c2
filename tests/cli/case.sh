#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# case, ask, fields, evidence, report: typed input, precedence, what-ifs that change nothing, whole files only.
. "$(dirname "$0")/common.sh"
set +e
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
fails=0
b=$BRANCHKEEP_BIN
say() { echo "$1"; fails=$((fails + 1)); }
expect() {
    code=$1 word=$2
    shift 2
    "$b" "$@" >"$dir/o" 2>"$dir/e"
    got=$?
    [ "$got" -eq "$code" ] || say "exit $got instead of $code: $*"
    [ "$(wc -l <"$dir/e")" -eq 1 ] && grep -q -- "$word" "$dir/e" || say "\"$word\" is not in the one line of: $*: $(cat "$dir/e")"
}
c=$dir/c.json
"$b" case "$c" --new --set patient.age_y=67 --set anatomy.segments.proximal.reference_mm=3.7 \
    --set anatomy.segments.distal.reference_mm=3.0 --set anatomy.segments.side.reference_mm=2.5 >/dev/null || say "case --new failed"
expect 2 "exists" case "$c" --new
sha=$(sha256sum <"$c")
expect 2 "nearest known key is reference_mm" case "$c" --set anatomy.segments.side.refrence_mm=2
expect 3 "" case "$c" --set anatomy.segments.side.reference_mm=200
expect 2 "PATH=VALUE" case "$c" --set anatomy
expect 4 "none" case "$dir/none.json"
expect 2 "nearest" ask devises "$c"
expect 2 "nearest" evidence size_stp
expect 2 "expected" report "$c"
expect 1 "no baseline measurement" report "$c" --cine "$c" --pdf "$dir/r.pdf"
[ ! -e "$dir/r.pdf" ] || say "a report with a picture was written without a measurement"
"$b" report "$c" --pdf "$dir/r.pdf" --html "$dir/r.html" 2>/dev/null || say "no case sheet from entered numbers"
grep -q "Case sheet for a second opinion" "$dir/r.html" && ! grep -q "Diameter along each limb" "$dir/r.html" ||
    say "without a measurement the case sheet does not stand alone"
[ "$sha" = "$(sha256sum <"$c")" ] || say "a refused change touched the case"

# worked example of docs/methods/kissing.md: 3.0 and 2.5 mm give 3.91 (area), 4.51 (belt), 5.5 x 3.0 mm
"$b" ask devices "$c" >"$dir/a.json" || say "ask devices failed"
python3 - "$dir/a.json" <<'P' || say "the sizes are not those of the worked example"
import json, sys
a = json.load(open(sys.argv[1]))
use = {i["use"]: i for i in a["items"]}
assert use["main_stent"]["diameter_mm"] == 3.0 and use["pot_balloon"]["diameter_mm"] == 3.75
assert use["kissing_main"]["diameter_mm"] == 3.0 and use["kissing_side"]["diameter_mm"] == 2.5
assert use["main_stent"]["length_mm"] is None and use["main_stent"]["hold"]
k = a["kissing"]
assert abs(k["lumped_diameter_mm"] - 3.91) < 0.01 and abs(k["perimeter_diameter_mm"] - 4.51) < 0.01 and k["axes_mm"] == [5.5, 3.0]
assert all(s["standing"] in ("seen", "memory", "common practice") for s in a["sources"]) and a["cautions"]
assert {i["origin"] for i in a["inputs"] if i["name"] != "shelf"} == {"visual"}
P
"$b" ask devices "$c" --what-if anatomy.segments.distal.reference_mm=3.5 >"$dir/w.json" || say "a what-if failed"
grep -q '"diameter_mm": 3.5' "$dir/w.json" || say "the what-if had no effect"
[ "$sha" = "$(sha256sum <"$c")" ] || say "a what-if changed the case"
"$b" case "$dir/e.json" --new >/dev/null && "$b" ask devices "$dir/e.json" >"$dir/m.json" || say "an empty case cannot be asked"
python3 -c "
import json
a = json.load(open('$dir/m.json'))
assert len(a['missing']) >= 3 and all(i['diameter_mm'] is None for i in a['items']) and a['kissing'] is None" || say "missing input is not named"

# the whole way, and the same bytes twice
"$b" demo "$dir/demo" >/dev/null || { mkdir -p "$dir/demo" && "$b" demo "$dir/demo" >/dev/null || say "demo failed"; }
"$b" report "$dir/demo/demo-lcx-marginal.json" --cine "$dir/demo/view1.dcm" --pdf "$dir/1.pdf" --html "$dir/1.html" 2>/dev/null || say "report failed"
cmp -s "$dir/1.pdf" "$dir/demo/report.pdf" && cmp -s "$dir/1.html" "$dir/demo/report.html" || say "the report is not the same bytes twice"
expect 3 "SHA-256" report "$dir/demo/demo-lcx-marginal.json" --cine "$dir/demo/overlay.png" --pdf "$dir/2.pdf"
"$b" report "$dir/demo/demo-lcx-marginal.json" --html "$dir/3.html" 2>/dev/null && grep -q "not given" "$dir/3.html" || say "missing pixels are not said"
"$b" case "$dir/demo/demo-lcx-marginal.json" --set 'anatomy.segments.side.vessel=<b>x' >/dev/null
if command -v pdftotext >/dev/null; then
    pdftotext -layout "$dir/1.pdf" "$dir/1.txt"
    [ "$(pdfinfo "$dir/1.pdf" | sed -n 's/^Pages: *//p')" = 4 ] || say "the PDF has not four pages"
    [ "$(pdfinfo "$dir/r.pdf" | sed -n 's/^Pages: *//p')" = 1 ] || say "the case sheet is not one page"
    for word in "Case sheet for a second opinion" "Are there symptoms?" "both ≥ 60 %" "common practice," "not chosen"; do
        grep -q -- "$word" "$dir/1.txt" || say "\"$word\" is not on the case sheet"
    done
    for word in "67-year-old man" "Medina" "Main stent" "held back" "not a medical device" "INVENTED"; do
        grep -q -- "$word" "$dir/1.txt" || say "\"$word\" is not on paper"
    done
fi
"$b" selftest >"$dir/s" || say "selftest failed: $(cat "$dir/s")"
[ "$fails" -eq 0 ]
