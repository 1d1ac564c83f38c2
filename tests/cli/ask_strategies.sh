#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# ask strategies, ask indication, what a what-if turns over, a user's own evidence, the picture.
. "$(dirname "$0")/common_case.sh"
caution='"Research and education; not a medical device; verify; local protocols and the operator decide."'
python3=/usr/bin/python3
command -v $python3 >/dev/null || { echo "SKIP: python3 is not installed"; exit 77; }
that() { # EXPRESSION over a, the answer
    $python3 -c "
import json, sys
a = json.load(open('answer'))
o = {x['id']: x for x in a.get('options', [])}
sys.exit(not ($1))" || fail "not true: $1"
}

# invented case 3: right coronary crux; both stenoses above 60 %, side lesion of 7 mm, 2.5 mm
cat >crux.json <<'JSON'
{"patient": {"presentation": "nstemi", "sex": "male", "height_cm": 178, "weight_kg": 92}, "anatomy": {"site": "rca_crux",
  "core_stenosis_pct": 40, "segments": {
   "proximal": {"reference_mm": 3.6, "mld_mm": 1.08, "lesion_length_mm": 9},
   "distal": {"reference_mm": 2.75, "mld_mm": 1.1, "timi": 2, "lesion_length_mm": 6},
   "side": {"reference_mm": 2.5, "mld_mm": 0.88, "lesion_length_mm": 7}},
  "angles": {"distal_side_deg": 62, "proximal_side_deg": 130}}}
JSON

# ---- strategies: all ids, the contract's keys, strata that fit, nothing advised ----
ok ask strategies crux.json
that 'sorted(o) == sorted("provisional provisional_wire jailed_balloon kissing_predilatation inverted single_limb dcb_side t tap culotte dk_culotte dk_crush".split())'
that 'all(set("id name for_this_anatomy steps_count wires balloons stents guide_french loss ffr for against".split()) <= set(x) for x in a["options"])'
that 'a["options"][0]["id"] == "provisional_wire" and a["options"][0]["for_this_anatomy"] == "yes"'
that 'sum(x["first_three"] for x in a["options"]) == 3 and all(x["first_three"] for x in a["options"][:3])'
that '{x["source"]: x["pct"]["value"] for x in o["provisional_wire"]["loss"]}["cobis3_side_60_wired"] == 5.1'
that '{x["source"]: x["pct"]["value"] for x in o["provisional"]["loss"]}["cobis3_side_60_unwired"] == 11.3'
that '[x["standing"] for x in o["provisional"]["loss"] if x["source"].startswith("practice")] == ["common practice"]'
that 'o["jailed_balloon"]["for_this_anatomy"] == "no"' # 2.5 mm is not below 2.5 mm
that 'o["inverted"]["axis"] == "side" and "crosses the distal main vessel (2.75 mm)" in o["inverted"]["axis_text"]'
that 'len(o["single_limb"]["pathways"]) == 3 and o["dk_culotte"]["steps_count"] is None'
that 'all(r["standing"] in ("seen", "memory", "common practice") for x in a["options"] for r in x["for"] + x["against"] + x["conditions"])'
holds "Options are laid out, not chosen"
holds "$caution"
! grep -qiE 'you should|we recommend|best option|is recommended' answer || fail "it advises"

that '{k["use"]: k["diameter_mm"] for k in o["inverted"]["kit"]}["main_stent"] == 2.5' # by the side branch
that '{k["use"]: k["diameter_mm"] for k in o["culotte"]["kit"]}["side_stent"] == 2.5'
that 'not any(k["use"] == "side_stent" for k in o["provisional"]["kit"])'

# flow can be said once it is not an acute culprit: before and after, as in ask flow
ok ask flow crux.json --what-if patient.presentation=chronic
cp answer flow.json
ok ask strategies crux.json --what-if patient.presentation=chronic
that 'o["t"]["ffr"]["side"]["before"] == json.load(open("flow.json"))["before"]["side"]["ffr"]'
that 'o["t"]["ffr"]["side"]["after"] == [x for x in json.load(open("flow.json"))["after"] if x["strategy"] == "t"][0]["side"]["ffr"]'
that 'o["provisional"]["ffr"]["side"]["after"]["value"] < o["t"]["ffr"]["side"]["after"]["value"]'

# devices and steps follow the first option, or what was decided
ok ask steps crux.json
says '"strategy": "provisional_wire"'
ok ask devices crux.json --what-if decision.strategy=inverted
says '"strategy": "inverted"'
ok ask strategies crux.json --what-if decision.strategy=tap
says '"decided": "tap"'
says '"followed_by_devices_and_steps": "tap"'

# nothing known: unknown, never no
echo '{}' >empty.json
ok ask strategies empty.json
that 'all(x["for_this_anatomy"] == "unknown" for x in a["options"]) and a["options"][0]["id"] == "provisional"'
that 'all(x["ffr"] is None for x in a["options"])'

# one limb only
ok ask strategies crux.json --what-if anatomy.segments.distal.mld_mm=2.4 --what-if anatomy.segments.side.mld_mm=2.2
that 'o["single_limb"]["for_this_anatomy"] == "yes"'
that '[p["this_case"] for p in o["single_limb"]["pathways"]] == ["yes", "no", "no"]'

# ---- what-if: what it turns over ----
ok ask protect crux.json --what-if anatomy.segments.side.mld_mm=1.2
that '{"what": "rules.side_60.met", "from": "yes", "to": "no"} in a["flips"]'
that '{"what": "rules.tight_both_60.met", "from": "yes", "to": "no"} in a["flips"]'
that 'a["place_before"]["side_stenosis_pct"]["value"] == 64.8 and a["place"]["side_stenosis_pct"]["value"] == 52'
that 'not any("rules.main_60" in f["what"] for f in a["flips"])'
ok ask protect crux.json --what-if anatomy.segments.side.mld_mm=0.87
that 'a["flips"] == []'
ok ask risk crux.json --what-if anatomy.site=left_main
that '{"what": "models.left_main.applies", "from": "no", "to": "yes"} in a["flips"]'
ok ask strategies crux.json --what-if anatomy.segments.side.lesion_length_mm=12
that '{"what": "options.provisional_wire.for_this_anatomy", "from": "yes", "to": "no"} in a["flips"]'
ok ask protect crux.json
lacks '"flips"'

# ---- mass and stake ----
ok ask protect crux.json
that '[r for r in a["rules"] if r["id"] == "mass_10pct"][0]["value"] == a["stake"]["territory"]["mass_pct"]["value"]'
that '[r for r in a["rules"] if r["id"] == "mass_10pct"][0]["standing"] == "memory"'
holds 'rule mass_10pct decides nothing alone'
ok ask territory crux.json
cp answer territory.json
ok ask protect crux.json
that 'json.load(open("territory.json"))["side"]["mass_pct"]["value"] == a["stake"]["territory"]["mass_pct"]["value"]'

# ---- indication ----
ok ask indication crux.json
that '{"symptoms", "ischaemia", "measured_physiology", "extent", "heart_team", "dapt", "oac"} <= {r["id"] for r in a["reads"]}'
that 'all(set("id text value source".split()) <= set(r) for r in a["reads"]) and a["reads"][0]["id"] == "measured_physiology"'
holds 'Acute presentation: it is itself the indication'
that 'all(isinstance(q, str) for q in a["open_questions"]) and len(a["open_questions"]) > 2'
chronic="--what-if patient.presentation=chronic"
ok ask indication crux.json $chronic
holds 'No pressure reading and no positive test for ischaemia is recorded'
ok ask indication crux.json $chronic --what-if physiology.0.limb=distal --what-if physiology.0.index=ffr --what-if physiology.0.value=0.86
holds 'FFR measured in the distal main vessel: above 0.80'
that 'a["reads"][0]["value"] == 0.86'
holds 'measured physiology leads, so what is to be treated?'
lacks 'No pressure reading'
ok ask indication crux.json $chronic --what-if physiology.0.limb=distal --what-if physiology.0.index=ffr --what-if physiology.0.value=0.80
holds 'at or below 0.80'
ok ask indication crux.json $chronic --what-if indication.ischaemia_test=positive --what-if indication.test_matches=yes
lacks 'No pressure reading'
ok ask indication crux.json --what-if anatomy.site=left_main
holds 'its decision is not recorded'
ok ask indication crux.json --what-if indication.diseased_vessels=3 --what-if patient.diabetes=insulin --what-if indication.heart_team=yes
lacks 'Extent for which a heart team'
that '[r for r in a["reads"] if r["id"] == "heart_team"][0]["value"] == "yes"'
ok ask indication crux.json --what-if indication.dapt_possible=no --what-if patient.oral_anticoagulation=yes --what-if patient.bleeding_history.surgery_planned=no
holds 'Two antiplatelet drugs cannot be taken'
holds 'An oral anticoagulant is taken'
lacks 'Is surgery planned'
ok ask indication empty.json
that '[r["value"] for r in a["reads"] if r["id"] in ("symptoms", "heart_team", "dapt", "oac")] == ["not recorded"] * 4'
refused 3 'indication.ischaemia_test: "postive" is unknown, the nearest known word is positive' \
    ask indication empty.json --what-if indication.ischaemia_test=postive

# ---- the picture: the same bytes twice, and with a what-if another one ----
ok ask protect crux.json --svg one.svg
ok ask protect crux.json --svg two.svg
cmp -s one.svg two.svg || fail "the picture is not the same bytes twice"
ok ask protect crux.json --svg three.svg --what-if anatomy.segments.side.mld_mm=1.5
! cmp -s one.svg three.svg || fail "the picture does not move with a what-if"
head -c 200 one.svg | grep -q '<svg' || fail "no SVG"
ok ask protect empty.json --svg none.svg
refused 2 '--svg with topic risk was found, only protect has a picture' ask risk crux.json --svg x.svg
[ ! -e x.svg ] || fail "a picture was written in spite of an error"

# ---- a user's own evidence ----
columns='id,topic,name,value,unit,text,source,standing,checked'
mkdir own
own() { # ROW...
    printf '%s\n' "$columns" "$@" >own/mine.csv
}
own 'cobis3_stenosis_line,risk,A line of our own,70,%,Our line.,a person,seen,2026-11-27' 'our_row,risk,Ours,1,1,Ours.,a person,common practice,'
ok --evidence own evidence our_row
holds '"own": true'
ok --evidence own ask protect crux.json
that '[r for r in a["rules"] if r["id"] == "side_60"][0]["threshold"] == 70 and a["place"]["line_pct"] == 70'
that '[s for s in a["sources"] if s["id"] == "cobis3_stenosis_line"][0]["own"]'
BRANCHKEEP_EVIDENCE=own "$BRANCHKEEP_BIN" evidence our_row >answer || fail "the environment variable does nothing"
ok ask protect crux.json
that '[r for r in a["rules"] if r["id"] == "side_60"][0]["threshold"] == 60'
own 'cobis3_stenosis_line,risk,A line,,none,Our line.,a person,memory,'
refused 3 'mine.csv:2: row cobis3_stenosis_line has no value, the row built in has one' --evidence own evidence
own 'cobis3_stenosis_line,risk,A line,6,mm,Our line.,a person,memory,'
refused 3 'mine.csv:2: row cobis3_stenosis_line has the unit "mm", "%" as in the row built in was expected' --evidence own evidence
own 'ours,risk,A line,6,mm,Our line.,a person,memory,' 'ours,risk,A line,6,mm,Our line.,a person,memory,'
refused 3 'mine.csv:3: id ours was given before' --evidence own evidence
own 'ours,risk,A line,six,mm,Our line.,a person,memory,'
refused 3 'mine.csv:2: value "six" was found, a number was expected' --evidence own ask risk crux.json
own 'ours,risk,A line,6,mm,Our line.,a person,seen,'
refused 3 'mine.csv:2: checked "" was found, a day as 2026-11-25 was expected' --evidence own version
: >own/mine.csv
refused 3 'mine.csv:1: an empty table was found, a line of column names was expected' --evidence own version
rm own/mine.csv
refused 3 'the evidence folder own holds no table, *.csv was expected' --evidence own version
refused 4 'the evidence folder nowhere cannot be read' --evidence nowhere version
refused 2 'option --evidence ends the line, a folder was expected' --evidence

# a point table of RESOLVE, the numbers invented: the score, the group it falls under, and the trial it belongs to
t() { echo "resolve_points_$1,risk,Invented,$2,points,Invented.,a test,seen,2026-11-27"; }
ok ask risk crux.json
says '"resolve_points": null'
own "$(t plaque_same 1)" "$(t timi_2 3)" "$(t timi_1 5)" "$(t timi_0 8)" "$(t core_1 2)" "$(t core_1_from 50)" \
    "$(t angle_1 4)" "$(t angle_1_from 70)" "$(t ratio_1 3)" "$(t ratio_1_from 1.2)" "$(t side_1 6)" "$(t side_1_from 50)"
ok --evidence own ask risk crux.json --what-if anatomy.plaque_side=same
# same side 1, TIMI 2: 3, core 40 %: 0, 62 degrees: 0, ratio 3.175/2.5 = 1.27: 3, side 65 %: 6
that 'a["resolve_points"] == {"value": 13, "at_least": 13, "at_most": 13, "high_risk": "yes"}'
that '[m for m in a["models"] if m["id"] == "v_resolve"][0]["stratum_pct"]["value"] == 16.7'
ok --evidence own ask risk crux.json --what-if anatomy.plaque_side=opposite --what-if anatomy.segments.distal.timi=3
that 'a["resolve_points"]["value"] == 9 and [m for m in a["models"] if m["id"] == "v_resolve"][0]["stratum_pct"]["value"] == 4.3'
ok --evidence own ask protect crux.json --what-if anatomy.plaque_side=same --what-if anatomy.segments.side.reference_mm=2.3
that '[c for c in a["comparison"] if c["id"] == "jailed_balloon_loss"][0]["this_case_belongs"] == "yes"'
