/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/ask_branch.h"

#include <math.h>

#include "base/format.h"

void bk_branch_note_inputs(const bk_asked *asked, unsigned bits, bk_answer *answer)
{
    static const char *const presentations[] = {"",      "chronic", "unstable", "nstemi",
                                                "stemi", "shock",   "arrest"};
    static const char *const sites[] = {"", "left_main", "lad_diagonal", "lcx_marginal", "rca_crux", "other"};
    static const char *const sides[] = {"", "same", "opposite", "both", "none"};
    const bk_anatomy_input *a = &asked->c->anatomy;
    for (int i = 0; i < BK_RISK_INPUTS; i++)
        if (bits >> i & 1)
            bk_answer_input(answer, bk_risk_input_paths[i],
                            bk_risk_input_fact(asked->facts, (bk_risk_input)i), bk_risk_input_units[i],
                            asked->facts->measurement);
    if (a->site)
        bk_answer_input_text(answer, "anatomy.site", sites[a->site], "entered");
    if (asked->c->patient.presentation)
        bk_answer_input_text(answer, "patient.presentation", presentations[asked->c->patient.presentation],
                             "entered");
    if (a->plaque_side)
        bk_answer_input_text(answer, "anatomy.plaque_side", sides[a->plaque_side], "entered");
}

void bk_branch_note_missing(const bk_risk_inputs *inputs, unsigned bits, const char *needed_by,
                            bk_answer *answer)
{
    char why[200];
    for (int i = 0; i < BK_RISK_INPUTS; i++) {
        const bk_qty q = inputs->fact[i].q;
        const bool angle = i >= BK_IN_DISTAL_SIDE_ANGLE;
        if (!(bits >> i & 1) || i == BK_IN_SIDE_MASS || (bk_has(q) && q.origin != BK_PROJECTED))
            continue;
        if (bk_has(q) && angle)
            bk_format(why, sizeof why, "seen in one view only: a rule on an angle needs a second view; %s",
                      needed_by);
        else if (bk_has(q))
            bk_format(why, sizeof why, "seen in one view only, so at least %.1f mm; %s", q.value, needed_by);
        else
            bk_format(why, sizeof why, "not known; %s", needed_by);
        bk_answer_missing(answer, bk_risk_input_paths[i], why);
    }
}

void bk_branch_note_missing_fact(bk_risk_fact fact, const char *needed_by, bk_answer *answer)
{
    static const char *const paths[BK_RISK_FACTS] = {
        [BK_FACT_ACS] = "patient.presentation",
        [BK_FACT_STEMI] = "patient.presentation",
        [BK_FACT_PLAQUE_SAME] = "anatomy.plaque_side",
        [BK_FACT_MAIN_FLOW_LOW] = "anatomy.segments.distal.timi",
        [BK_FACT_CALCIFIED] = "anatomy.calcium",
        [BK_FACT_CALCIUM_MODERATE] = "anatomy.calcium",
        [BK_FACT_THROMBUS] = "anatomy.thrombus_grade",
        [BK_FACT_PLAQUE_MAY_SHIFT] = "anatomy.thrombus_grade, anatomy.ulcerated",
        [BK_FACT_NOT_LAD] = "anatomy.site",
        [BK_FACT_MULTIPLE_LESIONS] = "anatomy.multiple_lesions",
        [BK_FACT_ACCESS_DIFFICULT] = "anatomy.side_access_difficult",
        [BK_FACT_RESOLVE_HIGH] = "models resolve, v_resolve: points",
    };
    char why[200];
    if (!paths[fact])
        return;
    bk_format(why, sizeof why, "not known; %s", needed_by);
    bk_answer_missing(answer, paths[fact], why);
}

static const char *const relations[] = {"at least", "above", "at most", "below"};

void bk_branch_put_certainty(bk_json *out, double certainty_pct, const bk_test *test)
{
    char text[160];
    const bool extreme = certainty_pct < 5 || certainty_pct > 95;
    const double in = extreme ? 100 : 10, shown = fmax(1, fmin(in - 1, round(certainty_pct * in / 100)));
    const char *bound = certainty_pct < 1 ? "less than " : certainty_pct > 99 ? "more than " : "";
    bk_json_put_fixed(out, "threshold_certainty_pct", certainty_pct, 0);
    bk_format(text, sizeof text, "%s%.0f in %.0f that it is really %s %g %s", bound, shown, in,
              test->relation == BK_IS ? "" : relations[test->relation], test->threshold,
              test->relation == BK_IS ? "" : bk_branch_unit(test));
    bk_json_put_text(out, "threshold_certainty", isnan(certainty_pct) ? NULL : text);
}

void bk_branch_put_amount(bk_json *out, const char *key, double value, const char *unit)
{
    bk_json_put_fixed(out, key, value, unit && (unit[0] == '%' || unit[0] == 'd') ? 1 : 2);
}

const char *bk_branch_wire_words(bk_side_wire side)
{
    static const char *const states[] = {"nothing", "wire", "jailed wire", "wire through the cell"};
    return states[side];
}

bk_json *bk_branch_proportion(bk_proportion pct)
{
    if (isnan(pct.pct))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", pct.pct, 1);
    bk_json_put_fixed(out, "low", pct.low_pct, 1);
    bk_json_put_fixed(out, "high", pct.high_pct, 1);
    bk_json_put(out, "level_pct",
                isnan(pct.low_pct) ? bk_json_new_null() : bk_json_new_integer(BK_COUNT_LEVEL_PCT));
    return out;
}

const char *bk_branch_unit(const bk_test *test)
{
    return test->relation == BK_IS ? NULL : bk_risk_quantity_units[test->quantity];
}

void bk_branch_rule_text(char *out, size_t room, const bk_test *test, const char *fact_words)
{
    if (test->relation == BK_IS)
        bk_format(out, room, "%s",
                  bk_risk_fact_words[test->fact][0] ? bk_risk_fact_words[test->fact] : fact_words);
    else
        bk_format(out, room, "%s %s %g%s%s", bk_risk_quantity_words[test->quantity],
                  relations[test->relation], test->threshold, bk_branch_unit(test)[0] ? " " : "",
                  bk_branch_unit(test));
}

void bk_branch_cautions(const bk_asked *asked, bk_answer *answer)
{
    bk_answer_caution(answer, "How certainly a line is reached is about the measurement only: it is not a "
                              "chance of losing the branch.");
    if (asked->facts->agreement == BK_DISAGREE)
        bk_answer_caution(
            answer,
            "The ways to the scale disagree: rules in mm rest on a doubtful scale, those in percent do not.");
    bool by_eye = false;
    for (int limb = 0; limb < BK_LIMBS; limb++)
        by_eye = by_eye || asked->facts->limb[limb].stenosis_pct.q.origin == BK_VISUAL;
    if (by_eye) {
        bk_answer_caution(answer, "A stenosis by eye carries the published spread of visual reading, and "
                                  "eyes read tighter than measurements do; not corrected.");
        bk_answer_source(answer, BK_EVIDENCE("visual_stenosis_sd"));
        bk_answer_source(answer, BK_EVIDENCE("visual_stenosis_bias"));
    }
    if (asked->c->anatomy.extra_limb)
        bk_answer_caution(answer, "A fourth limb is entered; published models are for bifurcations.");
}
