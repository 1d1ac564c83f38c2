#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# ask budget and ask injury: keys of the contract, worked cases, the live state from the log, labs, bad input.
. "$(dirname "$0")/common_case.sh"
caution='"Research and education; not a medical device; verify; local protocols and the operator decide."'
holds_that() { # PYTHON CONDITION over `a`, the answer
    python3 -c 'import json, sys
a = json.load(open("answer"))
limits = {l["id"]: l for l in a.get("contrast", {}).get("limits", [])}
verdict = {d["id"]: d["verdict"] for d in a.get("definitions", [])}
missing = {m["name"] for m in a["missing"]}
sheet = {f["id"]: f for f in a.get("follow_up", [])}
sys.exit(not eval(sys.argv[1]))' "$1" || fail "not so: $1"
}

# ---- budget: an invented man of 74, 66 kg, creatinine 2.9 mg/dL, 38 mL used; limits worked by hand ----
cat >k.json <<'JSON'
{"patient": {"age_y": 74, "sex": "male", "weight_kg": 66, "creatinine_mg_dl": 2.9, "diabetes": "oral", "presentation": "chronic"},
 "procedure": {"contrast_ml": 38}}
JSON
ok ask budget k.json
holds "$caution"
holds_that 'list(limits) == ["max_dose_5kg_per_scr", "two_crcl", "three_crcl", "three_seven_crcl", "egfr_1_78"]'
holds_that '[round(l["limit_ml"]) for l in limits.values()] == [114, 42, 63, 77, 39]'
holds_that '[round(l["remaining_ml"]) for l in limits.values()] == [76, 4, 25, 39, 1]'
holds_that '[l["strictest"] for l in limits.values()] == [False] * 4 + [True]'
holds_that 'abs(a["egfr"]["value"] - 22.0104) < 1e-3 and a["egfr"]["stage"] == "G4" and abs(a["crcl"]["value"] - 20.8621) < 1e-3'
holds_that 'a["contrast"]["used_ml"] == 38 and a["contrast"]["blocks"] is False and "AUC 0.59" in a["contrast"]["text"]'
holds_that 'a["radiation"]["notices"] == [] and a["radiation"]["follow_up"] == "unknown"'
holds_that 'a["bleeding"]["arc_hbr"]["high"] == "yes" and a["bleeding"]["arc_hbr"]["major"] == 1'
holds_that 'all(s["standing"] in ("seen", "memory", "common practice") for s in a["sources"])'
cp answer first
ok ask budget k.json
cmp -s first answer || fail "two answers differ"
# the same in umol/L
ok ask budget k.json --what-if patient.creatinine_mg_dl=null --what-if patient.creatinine_umol_l=256.36
holds_that '[round(l["limit_ml"]) for l in limits.values()] == [114, 42, 63, 77, 39]'
# the equation of 2009 gives 65 for a man of 70 with 100 umol/L: it must be 69.8
ok ask budget k.json --what-if patient.creatinine_mg_dl=null --what-if patient.creatinine_umol_l=100 --what-if patient.age_y=70
holds_that 'abs(a["egfr"]["value"] - 69.8315) < 1e-3'

# dialysis, unstable: no limit, and the reason
for change in patient.dialysis=yes patient.creatinine_unstable=yes; do
    ok ask budget k.json --what-if "$change"
    holds_that 'all(l["limit_ml"] is None and l["passed"] == "unknown" for l in limits.values()) and a["egfr"] is None and a["crcl"] is None'
    holds_that '"contrast.limits" in missing and "cannot be given" in a["contrast"]["hold"]'
done
# missing is named, never replaced
echo '{}' >empty.json
ok ask budget empty.json
holds_that '{"patient.creatinine_mg_dl", "patient.age_y", "patient.sex", "patient.weight_kg"} <= missing'
holds_that 'a["egfr"] is None and a["crcl"] is None and a["heparin"]["bolus_u"] is None and a["bleeding"]["arc_hbr"]["high"] == "unknown"'
holds_that 'all(d["amount"] is None and d["hold"] for d in a["drugs"]["doses"])'
# never blocking in infarction with ST elevation or shock
for change in stemi shock; do
    ok ask budget k.json --what-if patient.presentation=$change --what-if procedure.contrast_ml=400
    holds_that 'all(l["passed"] == "yes" for l in limits.values()) and a["contrast"]["blocks"] is False and "never delayed" in a["contrast"]["note"]'
    holds_that 'a["kidney_scores"]["scores"][0]["applies"] is False'
done
# a dose needs weight and renal function, and says so
ok ask budget k.json --what-if procedure.gp_inhibitor=no
holds_that 'a["heparin"]["bolus_u"]["low"] == 4600 and a["heparin"]["bolus_u"]["high"] == 6600 and a["heparin"]["label"] == "check local label"'
ok ask budget k.json --what-if procedure.gp_inhibitor=no --what-if patient.creatinine_mg_dl=null
holds_that 'a["heparin"]["bolus_u"] is None and "renal function" in a["heparin"]["hold"]'
# points from copies never carry a rate: no percentage in any score of the answer
ok ask budget k.json --what-if patient.heart_failure=no --what-if procedure.hypotension=no --what-if procedure.balloon_pump=no --what-if patient.haematocrit_pct=41
holds_that 'a["kidney_scores"]["scores"][0]["points"] == 7 and a["kidney_scores"]["scores"][0]["group"] == 2'
holds_that '"14" not in json.dumps(a["kidney_scores"]["scores"][0]["group_text"]) and "mehran_group_2" not in [s["id"] for s in a["sources"]]'

# ---- the live state ----
cat >live.json <<'JSON'
{"patient": {"age_y": 74, "sex": "male", "weight_kg": 66, "creatinine_mg_dl": 2.9}, "procedure": {"gp_inhibitor": "no", "act_family": "low_reading", "contrast_ml": 999},
 "log": [{"event": "contrast", "at": "2026-11-27T10:00", "ml": 20}, {"event": "act", "at": "2026-11-27T10:05", "s": 320},
         {"event": "contrast", "at": "2026-11-27T10:10", "ml": 18}, {"event": "contrast", "at": "2026-11-27T10:11", "ml": 50}, {"event": "undo", "n": 4},
         {"event": "dose", "at": "2026-11-27T10:20", "air_kerma_gy": 4.7, "kerma_area_dgy_cm2": 3100, "fluoroscopy_min": 29},
         {"event": "dose", "at": "2026-11-27T10:45", "air_kerma_gy": 5.0, "kerma_area_dgy_cm2": 3100, "fluoroscopy_min": 31}, {"event": "balloon", "mm": 3}]}
JSON
ok ask budget live.json
holds_that 'a["contrast"]["used_ml"] == 38 and a["contrast"]["used_from"] == "log"'
holds_that '[(n["metric"], n["at"], n["kind"]) for n in a["radiation"]["notices"]] == [("air kerma at the reference point", g, "notice") for g in (3, 4, 5)] + [("air kerma at the reference point", 5, "follow-up level"), ("kerma-area product", 300, "notice"), ("fluoroscopy time", 30, "notice")]'
holds_that 'a["radiation"]["kerma_area_gy_cm2"] == 310 and a["radiation"]["follow_up"] == "yes" and a["radiation"]["mean_field_cm2"] == 62'
holds_that 'a["heparin"]["act"]["class"] == "above" and a["heparin"]["act"]["minutes_ago"] == 40 and a["heparin"]["act"]["next_due_in_min"] == -10'
# an undo that is undone: the 50 mL count again
sed 's/{"event": "undo", "n": 4}/{"event": "undo", "n": 4}, {"event": "undo", "n": 5}/' live.json >odd.json
ok ask budget odd.json
holds_that 'a["contrast"]["used_ml"] == 88'
# what an event cannot mean is not counted, and said
sed 's/"ml": 18/"ml": -18/' live.json >odd.json
ok ask budget odd.json
holds 'log.2.ml: a number from 0 to 2000 was expected, this entry is not counted.'
holds_that 'a["contrast"]["used_ml"] == 20'
# no reading, however large, is turned into a notice for every step
echo '{"log": [{"event": "dose", "air_kerma_gy": 1e9, "fluoroscopy_min": 1e300}]}' >odd.json
ok ask budget odd.json
holds 'log.0.air_kerma_gy: a number from 0 to 50 was expected, this entry is not counted.'
holds_that 'a["radiation"]["notices"] == []'
echo '{"log": [1, "x", {}, null, {"event": 5}]}' >odd.json
ok ask budget odd.json
holds_that 'a["contrast"]["used_ml"] is None and "procedure.contrast_ml" in missing'

# ---- values that look like another unit are asked about by name ----
refused 3 'patient.creatinine_mg_dl: 85 was found, 0.2 to 20 mg/dL was expected; 85 umol/L is 0.96 mg/dL; a value in umol/L belongs in creatinine_umol_l' \
    ask budget k.json --what-if patient.creatinine_mg_dl=85
refused 3 'patient.creatinine_umol_l: 1.2 was found, 18 to 1770 umol/L was expected; 1.2 mg/dL is 106 umol/L; a value in mg/dL belongs in creatinine_mg_dl' \
    ask budget k.json --what-if patient.creatinine_mg_dl=null --what-if patient.creatinine_umol_l=1.2
refused 3 'patient.haemoglobin_g_dl: 140 was found, 3 to 24 g/dL was expected; 140 g/L is 14 g/dL; a value in g/L belongs in haemoglobin_g_l' \
    ask budget k.json --what-if patient.haemoglobin_g_dl=140
refused 3 'procedure.air_kerma_gy: 1500 was found, 0 to 50 Gy was expected; 1500 mGy is 1.50 Gy; a value in mGy is a thousand times that in Gy' \
    ask budget k.json --what-if procedure.air_kerma_gy=1500
refused 3 'patient.height_cm: 1.76 was found, 120 to 230 cm was expected; 1.76 m is 176 cm' ask budget k.json --what-if patient.height_cm=1.76
for question in 'patient.haemoglobin_g_dl=8.7|8.7 mmol/L would be 14.0 g/dL' 'patient.weight_kg=176|176 lb would be 80 kg' \
    'patient.creatinine_mg_dl=9|creatinine 9 mg/dL without dialysis' 'patient.height_cm=230|12 kg/m2'; do
    ok ask budget k.json --what-if "${question%%|*}"
    holds_that "any('${question##*|}' in q for q in a['questions'])"
done
ok ask budget k.json --what-if procedure.air_kerma_gy=1.5 --what-if procedure.kerma_area_gy_cm2=850
holds_that 'any("mean field of 566.7 cm2" in q for q in a["questions"])'
ok ask budget k.json --what-if procedure.air_kerma_gy=1.5 --what-if procedure.kerma_area_dgy_cm2=850
holds_that 'a["questions"] == [] and a["radiation"]["mean_field_cm2"] == 56.7'

# ---- injury: the fifteen rows are in the unit test; here the way from the document ----
cat >i.json <<'JSON'
{"patient": {"age_y": 66, "sex": "female", "weight_kg": 61, "creatinine_mg_dl": 0.9, "presentation": "chronic"},
 "injury": {"troponin_baseline_x": 0.6, "troponin_peak_x": 40, "hours_after": 18, "side_branch_occluded": true, "side_branch_reference_mm": 1.8,
            "new_q_waves": "no", "new_lbbb": "no", "ecg_ischaemia": "no", "imaging_loss": "no", "flow_limiting_complication": "no"}}
JSON
ok ask injury i.json
holds "$caution"
holds_that 'verdict == {"udmi4": "type_4a", "eapci2021": "type_4a", "scai2014": "not_met", "arc2": "not_met", "ischemia_primary": "depends"}'
holds_that 'all(d["why"] for d in a["definitions"]) and a["kidney_injury"] is None and a["territory_note"]["rise_x"] == 39.4'
holds_that '"not turned into grams" in a["territory_note"]["no_conversion"]'
ok ask injury i.json --what-if injury.side_branch_reference_mm=2.3
holds_that 'verdict["arc2"] == "mi" and verdict["ischemia_primary"] == "mi"'
ok ask injury i.json --what-if 'injury.side_branch_reference_mm={"value":2.1,"sd":0.1,"origin":"measured"}'
holds_that 'verdict["arc2"] == "depends" and [d for d in a["definitions"] if d["id"] == "arc2"][0]["side_at_least_2mm_certainty_pct"] == 84'
# the shared scale is part of the diameter's SD: 5 % of 2.15 mm beside 0.02 mm
ok ask injury i.json --what-if 'injury.side_branch_reference_mm={"value":2.15,"sd":0.02,"origin":"measured"}'
holds_that 'verdict["arc2"] == "mi"'
ok ask injury i.json --what-if 'injury.side_branch_reference_mm={"value":2.15,"sd":0.02,"origin":"measured"}' --what-if anatomy.calibration_sd_pct=5
holds_that 'verdict["arc2"] == "depends"'
# where it was not entered, the branch's reference of the bifurcation is taken
ok ask injury i.json --what-if injury.side_branch_reference_mm=null --what-if 'anatomy.segments.side.reference_mm={"value":2.3,"sd":0.05,"origin":"measured"}'
holds_that 'verdict["arc2"] == "mi" and any(i["name"] == "injury.side_branch_reference_mm" and i["value"] == 2.3 for i in a["inputs"])'
ok ask injury i.json --what-if injury.baseline_course=rising
holds_that 'verdict == {"udmi4": "not_classifiable", "eapci2021": "not_classifiable", "scai2014": "not_met", "arc2": "not_classifiable", "ischemia_primary": "not_classifiable"}'
ok ask injury i.json --what-if injury.troponin_baseline_x=null
holds_that 'set(verdict.values()) == {"not_classifiable"} and "injury.troponin_baseline_x" in missing'
ok ask injury i.json --what-if injury.new_q_waves=null
holds_that 'verdict["scai2014"] == "depends" and "injury.new_q_waves" in missing'
ok ask injury empty.json
holds_that 'set(verdict.values()) == {"not_classifiable"} and len(a["follow_up"]) >= 7'

ok ask injury i.json --what-if injury.troponin_baseline_x=null --what-if injury.troponin_peak_x=5000
holds_that 'a["questions"] == ["troponin after 5000 times the 99th percentile? a value in ng/L has to be divided by the assay\'"'"'s limit first"]'
ok ask injury i.json --what-if patient.age_y=null --what-if procedure.contrast_ml=100
holds_that '"eGFR not known" in sheet["kidney"]["why"]'
# out of proportion, and what else to look at
ok ask injury i.json --what-if injury.side_branch_occluded=no
holds_that 'a["territory_note"]["out_of_proportion"] == "yes" and "never closed" in a["territory_note"]["flags"][0] and len(a["territory_note"]["look_at"]) == 7'
ok ask injury i.json --what-if injury.side_branch_timi_final=3 --what-if injury.occlusion_minutes=9
holds_that 'a["territory_note"]["out_of_proportion"] == "yes" and a["territory_note"]["minutes_closed"] == 9'
ok ask injury i.json --what-if injury.troponin_peak_x=4
holds_that 'a["territory_note"]["out_of_proportion"] == "no"'
ok ask injury i.json
holds_that 'a["territory_note"]["out_of_proportion"] == "unknown" and a["territory_note"]["mass_g"] is None'

# ---- labs and log ----
cat >labs.json <<'JSON'
{"patient": {"age_y": 58, "sex": "male", "weight_kg": 92, "height_cm": 180, "presentation": "chronic"},
 "anatomy": {"site": "lcx_marginal", "segments": {"distal": {"reference_mm": 2.75, "vessel_length_mm": 60}, "side": {"reference_mm": 2.3, "vessel_length_mm": 40}}},
 "procedure": {"ended_at": "2026-11-26T10:00"},
 "log": [{"event": "timi", "limb": "side", "grade": 0, "at": "2026-11-26T09:20"}, {"event": "timi", "limb": "side", "grade": 3, "at": "2026-11-26T09:29"}],
 "labs": [{"at": "2026-11-26T08:00", "test": "hs-troponin T", "value": 7, "unit": "ng/L", "limit": 14, "limit_kind": "url_99"},
          {"at": "2026-11-27T06:00", "test": "hs-troponin T", "value": 560, "unit": "ng/L", "limit": 14, "limit_kind": "url_99"},
          {"at": "2026-11-26T13:00", "test": "hs-troponin T", "value": 280, "unit": "ng/L", "limit": 14, "limit_kind": "url_99"},
          {"at": "2026-11-26T07:00", "test": "creatinine", "value": 0.9, "unit": "mg/dL"}, {"at": "2026-11-28T10:00", "test": "Creatinine", "value": 1.2, "unit": "mg/dL"},
          {"at": "2026-11-26T07:00", "test": "haemoglobin", "value": 14.0, "unit": "g/dL"}, {"at": "2026-11-27T07:00", "test": "haemoglobin", "value": 110, "unit": "g/L"}],
 "injury": {"new_q_waves": "no", "new_lbbb": "no", "ecg_ischaemia": "no", "imaging_loss": "no", "flow_limiting_complication": "no",
            "bleeding": {"overt": "yes"}}}
JSON
ok ask injury labs.json
holds_that '{i["name"]: i["value"] for i in a["inputs"]}["injury.troponin_peak_x"] == 40 and {i["name"]: i["value"] for i in a["inputs"]}["injury.hours_after"] == 20'
holds_that 'verdict == {"udmi4": "type_4a", "eapci2021": "type_4a", "scai2014": "not_met", "arc2": "not_met", "ischemia_primary": "not_met"}'
holds_that 'a["territory_note"]["flow_limited_at_end"] == "no" and a["territory_note"]["minutes_closed"] == 9 and a["territory_note"]["mass_g"]["value"] == 14.4'
holds_that 'a["kidney_injury"]["kdigo"]["stage"] == 1 and a["kidney_injury"]["rise"] == 0.3 and a["kidney_injury"]["older"]["met"] == "yes"'
holds_that 'a["bleeding"]["barc"] == "3a" and a["bleeding"]["haemoglobin_drop_g_dl"] == 3'
# a second sample before: the course comes from both
sed 's/"labs": \[/"labs": [{"at": "2026-11-26T02:00", "test": "troponin_t", "value": 100, "unit": "ng\/L", "limit": 14, "limit_kind": "url_99"}, {"at": "2026-11-26T08:30", "test": "troponin_t", "value": 130, "unit": "ng\/L", "limit": 14, "limit_kind": "url_99"},/' labs.json >rising.json
ok ask injury rising.json
holds_that 'verdict["udmi4"] == "not_classifiable" and {i["name"]: i["value"] for i in a["inputs"]}["injury.baseline_course"] == "rising"'
holds 'a rise between them cannot be relied on'
ok ask injury labs.json
lacks 'a rise between them cannot be relied on'
# labs that cannot be used are named, each with its reason
sed 's/"limit_kind": "url_99"/"limit_kind": "uln"/; s/"Creatinine"/"creatnine"/' labs.json >odd.json
ok ask injury odd.json
holds 'labs.0: hs-troponin T has the wrong kind of limit'
holds 'labs.4: test \"creatnine\" is not one that is used here, the nearest known one is \"creatinine\".'
sed 's/"value": 0.9, "unit": "mg/"value": 85, "unit": "mg/' labs.json >odd.json
ok ask injury odd.json
holds 'labs.3: creatinine 85 mg/dL? That cannot be meant in this unit; it is not used.'
# without a time of the end no value is before or after
sed '/"log"/d' labs.json >odd.json
ok ask injury odd.json --what-if procedure.ended_at=yesterday
holds 'procedure.ended_at: \"yesterday\" was found, a time as 2026-11-25T14:05 was expected'
holds_that 'set(verdict.values()) == {"not_classifiable"} and "procedure.ended_at" in missing'
ok ask injury labs.json --what-if procedure.ended_at=null
holds 'the last event of the log is taken as the end of the procedure'

# ---- refused, one line each, nearest key named ----
refused 2 'injury.troponin_peek_x: "troponin_peek_x" is unknown, the nearest known key is troponin_peak_x' ask injury i.json --what-if injury.troponin_peek_x=3
refused 2 'procedure.contrast_mL: "contrast_mL" is unknown, the nearest known key is contrast_ml' ask budget k.json --what-if procedure.contrast_mL=3
refused 3 'injury.side_branch_timi_final: 4 was found, 0 to 3 was expected' ask injury i.json --what-if injury.side_branch_timi_final=4
sed 's/troponin_peak_x/troponin_peak/' i.json >odd.json
refused 3 'injury.troponin_peak is unknown, the nearest known key is troponin_peak_x' ask injury odd.json
sed 's/"creatinine_mg_dl"/"creatinin_mg_dl"/' k.json >odd.json
refused 3 'patient.creatinin_mg_dl is unknown, the nearest known key is creatinine_mg_dl' ask budget odd.json

# ---- the follow-up sheet ----
ok ask injury i.json --what-if procedure.air_kerma_gy=5.2 --what-if procedure.contrast_ml=250 --what-if injury.occlusion_minutes=12
holds_that '{"troponin", "troponin_again", "ecg", "kidney", "skin", "drugs", "ward", "access"} <= set(sheet)'
holds_that 'sheet["skin"]["when"] == "2 to 4 weeks after" and "5.2 Gy" in sheet["skin"]["why"] and "250 mL" in sheet["kidney"]["why"]'
holds_that '"check local label" in sheet["drugs"]["what"] and "closed for 12 min" in sheet["ward"]["what"]'
ok ask injury i.json --what-if procedure.air_kerma_gy=4.9
holds_that 'sheet["skin"]["when"] == "none by the levels"'
ok ask injury i.json --what-if patient.presentation=stemi --what-if injury.baseline_course=stable
holds_that '"prasugrel or ticagrelor" in sheet["drugs"]["what"]'
"$BRANCHKEEP_BIN" case r.json --new --set case_id=r --add measurement.json --set injury.troponin_baseline_x=0.5 --set injury.troponin_peak_x=6 >/dev/null || fail "case --new"
"$BRANCHKEEP_BIN" report r.json --html r.html 2>/dev/null || fail "report"
grep -q 'Follow-up sheet' r.html && grep -q '<td>depends</td>' r.html || fail "the sheet is not in the report"
"$BRANCHKEEP_BIN" case s.json --new --set case_id=s --add measurement.json >/dev/null || fail "case --new"
"$BRANCHKEEP_BIN" report s.json --html s.html 2>/dev/null || fail "report"
! grep -q 'Follow-up sheet' s.html || fail "a sheet without a procedure"

# ---- against the definitions and formulas written again from the papers, in exact fractions ----
PYTHONDONTWRITEBYTECODE=1 python3 "$BK_SOURCE/tests/support/patient_oracle.py" "$BRANCHKEEP_BIN" "$work" || fail "the oracle disagrees"
