# SPDX-License-Identifier: GPL-3.0-or-later
"""ask injury and ask budget against the printed definitions and formulas, written again in exact fractions from the papers:
   random cases, half of them on or beside a line. Everything that is asked is said, so no verdict may be "depends" for
   want of a fact.

   patient_oracle.py PROGRAM FOLDER
"""
import json
import pathlib
import random
import subprocess
import sys
from fractions import Fraction as F

PROGRAM, FOLDER = sys.argv[1], pathlib.Path(sys.argv[2])
CASES = 150
LINES = ["1", "5", "10", "35", "70"]


def ask(topic, case):
    path = FOLDER / "oracle.json"
    path.write_text(json.dumps(case))
    return json.loads(subprocess.run([PROGRAM, "ask", topic, str(path)], check=True, capture_output=True).stdout)


def multiple(rng):
    """A decimal as a laboratory would print it, often on or beside a line."""
    if rng.random() < 0.5:
        return format(float(F(rng.choice(LINES)) + F(rng.choice([0, 0, 1, -1, 7, 40]), 10)), ".1f")
    return format(rng.choice([rng.uniform(0.1, 1.2), rng.uniform(1, 12), rng.uniform(12, 120)]), ".1f")


def make(rng):
    yes = lambda p: "yes" if rng.random() < p else "no"
    base = rng.choice(["0.4", "1.0", "1.1", "2.0", "8.0", "10.0"])
    peak = multiple(rng)
    if rng.random() < 0.3:
        peak = format(float(F(base) * F(rng.choice(["1.19", "1.20", "1.21", "6"]))), ".2f")
    signs = {k: yes(0.15) for k in ("new_q_waves", "new_lbbb", "ecg_ischaemia", "imaging_loss", "flow_limiting_complication",
                                    "heart_failure_or_hypotension")}
    injury = {"troponin_baseline_x": float(base), "troponin_peak_x": float(peak), "hours_after": rng.choice([12, 48, 49]),
              "baseline_course": rng.choice(["normal", "stable", "falling", "rising"]), "st_shift_mm": rng.choice([0, -0.5, -1, -2]),
              "dissection_grade": rng.choice(["none", "B", "C"]), "side_branch_occluded": yes(0.4),
              "side_branch_reference_mm": rng.choice([1.9, 2.0, 2.4]), **signs}
    if rng.random() < 0.3:
        injury.update(ckmb_baseline_x=float(rng.choice(["0.5", "1.0", "3.0"])), ckmb_peak_x=float(multiple(rng)))
    if injury["side_branch_occluded"] == "yes" and rng.random() < 0.5:
        injury.update(side_branch_timi_before=3, side_branch_timi_after_stent=0, side_branch_timi_final=rng.choice([0, 2, 3]))
    return injury


def baseline(i, before):
    """normal, raised, rising or none."""
    if i["baseline_course"] == "rising":
        return "rising"
    if before <= 1:
        return "normal"
    return "raised" if i["baseline_course"] in ("stable", "falling") else "none"


def exact(value):
    return F(repr(value))


def wanted(i):
    yes = lambda key: i[key] == "yes"
    tn0, tn1 = exact(i["troponin_baseline_x"]), exact(i["troponin_peak_x"])
    lost = yes("side_branch_occluded") and i.get("side_branch_timi_final", 0) < 3  # flow limited at the end
    large = exact(i["side_branch_reference_mm"]) >= 2
    out, late, state = {}, i["hours_after"] > 48, baseline(i, tn0)
    ecg_small = yes("ecg_ischaemia")
    sign = any(map(yes, ("new_q_waves", "imaging_loss", "flow_limiting_complication", "side_branch_occluded"))) or ecg_small
    for name, small, big in (("udmi4", "injury", "injury"), ("eapci2021", "minor_injury", "major_injury")):
        if late or state in ("rising", "none"):
            out[name] = "not_classifiable"
        elif (state == "raised" and tn1 / tn0 <= F(6, 5)) or (state == "normal" and tn1 <= 1):
            out[name] = "none"
        else:
            out[name] = small if tn1 <= 5 else "type_4a" if sign else big

    ck = "ckmb_peak_x" in i
    before, after = (exact(i["ckmb_baseline_x"]), exact(i["ckmb_peak_x"])) if ck else (tn0, tn1)
    state_m = baseline(i, before)
    alone, with_ = (10, 5) if ck else (70, 35)
    rise = after if state_m == "normal" else after - before
    if late or state_m == "none":
        out["scai2014"] = "not_classifiable"
    else:
        met = rise >= alone or (rise >= with_ and (yes("new_q_waves") or yes("new_lbbb")))
        if state_m == "rising":
            met = met and yes("ecg_ischaemia") and yes("heart_failure_or_hypotension")
        out["scai2014"] = "mi" if met else "not_met"

    rise = tn1 if state == "normal" else tn1 - tn0
    if late or state in ("rising", "none"):
        out["arc2"] = "not_classifiable"
    elif rise < 35:
        out["arc2"] = "not_met"
    elif (lost and large) or any(map(yes, ("flow_limiting_complication", "new_q_waves", "imaging_loss"))):
        out["arc2"] = "mi"
    else:
        out["arc2"] = "significant_injury" if rise >= 70 else "not_met"

    if late or state_m != "normal":
        out["ischemia_primary"] = "not_classifiable"
    elif after > alone:
        out["ischemia_primary"] = "mi"
    elif after <= with_:
        out["ischemia_primary"] = "not_met"
    else:
        ecg = yes("new_q_waves") or yes("new_lbbb") or exact(i["st_shift_mm"]) <= -1
        flow = yes("flow_limiting_complication") or i["dissection_grade"] == "C" or (lost and large)
        out["ischemia_primary"] = "mi" if ecg or flow else "depends" if lost else "not_met"
    return out


def injuries(rng):
    seen = set()
    for n in range(CASES):
        injury = make(rng)
        got = {d["id"]: d["verdict"] for d in ask("injury", {"patient": {"presentation": "chronic"}, "injury": injury})["definitions"]}
        want = wanted(injury)
        assert got == want, f"case {n}: {injury}\n got {got}\nwant {want}"
        seen |= {(k, v) for k, v in got.items()}
    assert len(seen) >= 16, f"too few verdicts were met to prove much: {sorted(seen)}"


def budgets(rng):
    for n in range(30):
        woman, age, kg = rng.random() < 0.5, rng.randint(20, 95), round(rng.uniform(40, 140), 1)
        scr = round(rng.choice([0.7, 0.9, rng.uniform(0.4, 6)]), 2)
        used = rng.choice([0, 80, 300])
        a = ask("budget", {"patient": {"age_y": age, "sex": "female" if woman else "male", "weight_kg": kg, "creatinine_mg_dl": scr},
                           "procedure": {"contrast_ml": used}})
        k, power = (0.7, -0.241) if woman else (0.9, -0.302)
        egfr = 142 * min(scr / k, 1) ** power * max(scr / k, 1) ** -1.2 * 0.9938 ** age * (1.012 if woman else 1)
        crcl = (140 - age) * kg / (72 * scr) * (0.85 if woman else 1)
        limits = {"max_dose_5kg_per_scr": min(300, 5 * kg / scr), "two_crcl": 2 * crcl, "three_crcl": 3 * crcl,
                  "three_seven_crcl": 3.7 * crcl, "egfr_1_78": 1.78 * egfr}
        assert abs(a["egfr"]["value"] - egfr) < 1e-3 and abs(a["crcl"]["value"] - crcl) < 1e-3, (n, a["egfr"], egfr)
        for limit in a["contrast"]["limits"]:
            assert abs(limit["limit_ml"] - limits[limit["id"]]) < 1e-3, (n, limit, limits)
            assert abs(limit["remaining_ml"] - (limits[limit["id"]] - used)) < 0.06, (n, limit)


random_ = random.Random(9)
injuries(random_)
budgets(random_)
