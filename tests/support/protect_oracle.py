# SPDX-License-Identifier: GPL-3.0-or-later
"""ask protect against numpy: random cases with SDs; certainty of each line and stability by a simulation of its own.

   protect_oracle.py PROGRAM FOLDER
"""
import json
import pathlib
import subprocess
import sys

import numpy as np

PROGRAM, FOLDER = sys.argv[1], pathlib.Path(sys.argv[2])
CASES, OURS, THEIRS = 12, 20000, 400000
RULES = ["side_ref_2mm", "tight_both_60", "side_60", "main_60", "main_length_10mm", "length_73mm"]


def number(rng, value, sd, origin="measured"):
    return {"value": round(float(value), 3), "sd": round(float(sd), 3), "origin": origin}


def make(rng, by_diameters):
    """A case near the lines, all inputs measured in the picture with a common scale error; the side vessel entered.
    Stenoses as they stand, or from the smallest and the reference diameter."""
    def limb(mm):
        pct = rng.uniform(45, 75)
        lumen = {"mld_mm": number(rng, mm * (1 - pct / 100), rng.uniform(0.05, 0.2))} if by_diameters else \
            {"stenosis_pct": number(rng, pct, rng.uniform(2, 9))}
        return {"reference_mm": number(rng, mm, 0.1), **lumen,
                "lesion_length_mm": number(rng, rng.uniform(3, 8), rng.uniform(0.2, 1))}
    side = limb(rng.uniform(1.8, 2.3))
    side["vessel_length_mm"] = number(rng, rng.uniform(65, 80), 4, "derived")
    return {"anatomy": {"site": "lcx_marginal", "calibration_sd_pct": round(float(rng.uniform(1, 8)), 2),
                        "core_stenosis_pct": number(rng, rng.uniform(40, 70), 4),
                        "segments": {"proximal": limb(3.5), "distal": limb(3.0), "side": side}}}


def simulate(case, rng):
    a = case["anatomy"]
    scale = 1 + a["calibration_sd_pct"] / 100 * rng.standard_normal(THEIRS)

    def draw(q, with_scale):
        x = q["value"] + q["sd"] * rng.standard_normal(THEIRS)
        return x * scale if with_scale else x

    s = a["segments"]
    reference = {k: draw(s[k]["reference_mm"], True) for k in s}
    stenosis = {k: draw(s[k]["stenosis_pct"], False) if "stenosis_pct" in s[k] else
                100 * (1 - draw(s[k]["mld_mm"], True) / reference[k]) for k in s}
    main = np.maximum.reduce([stenosis["proximal"], stenosis["distal"], draw(a["core_stenosis_pct"], False)])
    length = draw(s["proximal"]["lesion_length_mm"], True) + draw(s["distal"]["lesion_length_mm"], True)
    return {"side_ref_2mm": reference["side"] >= 2,
            "tight_both_60": np.minimum(main, stenosis["side"]) >= 60,
            "side_60": stenosis["side"] >= 60, "main_60": main >= 60, "main_length_10mm": length > 10,
            "length_73mm": draw(s["side"]["vessel_length_mm"], False) >= 73}


def compare(name, got, share):
    """Rounding to a whole percent, and 4 standard errors of the program's draws."""
    allowed = 0.5 + 400 * np.sqrt(max(share * (1 - share), 1e-5) / OURS)
    if got is None or abs(got - 100 * share) > allowed:
        sys.exit(f"FAIL: {name}: {got}, {100 * share:.2f} within {allowed:.2f} was expected")


def main():
    rng = np.random.default_rng(20)
    for k in range(CASES):
        case = make(rng, k % 2 == 1)
        path = FOLDER / "oracle.json"
        path.write_text(json.dumps(case))
        answer = json.loads(subprocess.run([PROGRAM, "ask", "protect", path, "--samples", str(OURS), "--seed", str(k)],
                                           check=True, capture_output=True).stdout)
        reached, rules = simulate(case, rng), {r["id"]: r for r in answer["rules"]}
        same = np.ones(THEIRS, bool)
        for name in RULES:
            compare(f"case {k} {name}", rules[name]["threshold_certainty_pct"], reached[name].mean())
            same &= reached[name] == (rules[name]["met"] == "yes")
        if sorted(answer["stability_over"]) != sorted(RULES):
            sys.exit(f"FAIL: case {k}: stability over {answer['stability_over']}")
        compare(f"case {k} stability", answer["stability_pct"], same.mean())
    print(f"{CASES} cases agree with numpy")


main()
