#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# ask devices: from ten entered numbers, from a measured view, from a solid; what-if; what is missing.
. "$(dirname "$0")/common_case.sh"
caution='"Research and education; not a medical device; verify; local protocols and the operator decide."'

# ---- ten numbers and no film: the worked example of docs/methods/sizing.md ----
cat >ten.json <<'JSON'
{"anatomy": {"segments": {
   "proximal": {"reference_mm": 3.73, "mld_mm": 1.2, "lesion_length_mm": 5},
   "distal": {"reference_mm": 3.0, "mld_mm": 1.1, "lesion_length_mm": 12},
   "side": {"reference_mm": 2.5, "mld_mm": 0.8, "lesion_length_mm": 6}},
  "angles": {"distal_side_deg": 50}}}
JSON
ok ask devices ten.json
says '"topic": "devices"'
says '"strategy": "provisional_wire"' # the first option: side reference from 2 mm, stenoses above 60 %
item_says main_stent '"diameter_mm": 3'
item_says main_stent '"length_mm": 24'
item_says main_stent '"length_range_mm": null'
item_says pot_balloon '"diameter_mm": 3.75'
item_says kissing_main '"diameter_mm": 3'
item_says kissing_side '"diameter_mm": 2.5'
item_says main_stent '"same_size_pct": null'
says '"lumped_diameter_mm": 3.91'
says '"perimeter_diameter_mm": 4.51'
says '"axes_mm": [5.5, 3]'
holds '"moment": "main stent, side branch wired"'
holds '{"id": "law_fractal", "mother_mm": 3.729,'
holds "$caution"
holds '"Branching laws cannot see a wrong scale."'
holds '"origin": "visual"'

# ---- one measured view: sizes with intervals, the length held ----
ok case m.json --new --set case_id=m --add measurement.json
cp m.json before.json
ok ask devices m.json
item_says main_stent '"diameter_mm": 3'
item_says main_stent '"length_mm": null'
# the distal lesion ends at 7.0 + 11.0/2 mm from the branch point, the proximal one at 6.0 + 9.5/2: together 23.25 mm
item_says main_stent '"hold": "the length was seen in one view only: at least 23.2 mm, nothing more can be said; needs a second view at least 30° away, or the lengths from another source"'
# 3.02 mm, SD 0.05 and 1.6 % of scale: hypot(0.05, 0.0483) = 0.0695; 3.02 -+ 1.645 x 0.0695
item_says main_stent '"target_mm": {"value": 3.02, "low": 2.906, "high": 3.134, "level_pct": 90}'
item_says main_stent '"stable": true'
holds '"from": "measurements.0"'
holds '"name": "calibration_sd_pct"'
holds '"id": "view_separation"'
item_says pot_balloon '"diameter_mm": 3.5'
item_says pot_balloon '"stable": false'

# ---- a solid: a range of lengths ----
ok case m.json --add solid.json
ok ask devices m.json
item_says main_stent '"hold": null'
item main_stent | grep -Eq '"length_range_mm": \{"low": [0-9.]+, "high": [0-9.]+, "level_pct": 90\}' || fail "no range: $(item main_stent)"
holds '"from": "solid"'
lacks 'seen in one view only'

# ---- what-if: answered, not written ----
cp m.json before.json
ok ask devices m.json --what-if anatomy.segments.side.reference_mm=2.0 --what-if decision.strategy=culotte --seed 7 --samples 10
item_says kissing_side '"diameter_mm": 2'
item_says side_stent '"diameter_mm": 2'
says '"strategy": "culotte"'
holds '"what_if": ["anatomy.segments.side.reference_mm=2.0", "decision.strategy=culotte"]'
cmp -s m.json before.json || fail "what-if changed the file"
ok ask devices m.json --what-if decision.strategy=inverted
item_says main_stent '"diameter_mm": 2.5'
ok ask devices m.json --what-if decision.strategy=single_limb
lacks '"use": "main_stent"'
holds '"use": "guide"'

# ---- missing: null and named, exit 0 ----
echo '{}' >empty.json
ok ask devices empty.json
says '"kissing": null'
says '"branching": null'
item_says main_stent '"diameter_mm": null'
item_says main_stent '"hold": "the length cannot be said, what it needs is missing; lengths from one view are lower bounds, a second view at least 30° away releases it"'
holds '"name": "anatomy.segments.distal.reference_mm"'
holds "$caution"
ok ask devices ten.json --what-if anatomy.segments.proximal.reference_mm=null
item_says pot_balloon '"diameter_mm": null'
item_says main_stent '"diameter_mm": 3'
holds 'the fractal ratio would give 3.73 mm, the HK law 3.72 mm'

# ---- a scale in dispute withdraws what was taken off the picture ----
sed 's/"agreement": "single"/"agreement": "disagree"/' measurement.json >dispute.json
ok case d.json --new --add dispute.json
ok ask devices d.json
item_says main_stent '"diameter_mm": null'
item main_stent | grep -q '"hold": "the ways to the scale disagree' || fail "not held: $(item main_stent)"

# ---- the same question gives the same bytes ----
ok ask devices m.json
cp answer first
ok ask devices m.json
cmp -s answer first || fail "two answers differ"

# ---- refused ----
refused 2 'topic "device" is unknown, the nearest known one is "devices"' ask device ten.json
refused 2 '1 plain words were found, TOPIC CASE.json was expected' ask devices
refused 2 'anatomy.segments.sid.timi: "sid" is unknown, the nearest known key is side' \
    ask devices ten.json --what-if anatomy.segments.sid.timi=3
refused 3 'anatomy.segments.side.timi: 4 was found, 0 to 3 was expected' \
    ask devices ten.json --what-if anatomy.segments.side.timi=4
refused 2 '--samples "0" was found, a whole number from 1 to 1000000 was expected' ask devices ten.json --samples 0
