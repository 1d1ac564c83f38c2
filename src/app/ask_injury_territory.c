/* SPDX-License-Identifier: GPL-3.0-or-later */
/* "Why is it so high?": the branch's territory, the minutes it was closed and the time course, laid next to
   the rise and to what was published. */
#include <math.h>

#include "app/ask_injury.h"
#include "base/format.h"
#include "core/flow/territory.h"
#include "core/num.h"
#include "core/outcome/proportion.h"

typedef struct mass {
    bk_mass grams, percent; /* NaN: not known */
    int method;             /* BK_TERRITORY_METHODS: none */
} mass;

/* The first method, in their order, that knows the side branch. */
static mass side_mass(const bk_patient_asked *in)
{
    const bk_territory t =
        bk_territory_of(in->facts, &in->c->patient, in->c->anatomy.site, bk_evidence_builtin());
    const bk_mass none = {(double)NAN, (double)NAN, (double)NAN};
    for (int m = 0; m < BK_TERRITORY_METHODS; m++)
        if (!isnan(t.grams[m][BK_SIDE].value) || !isnan(t.percent[m][BK_SIDE].value))
            return (mass){t.grams[m][BK_SIDE], t.percent[m][BK_SIDE], m};
    return (mass){none, none, BK_TERRITORY_METHODS};
}

static bk_json *amount(const bk_mass *m, int decimals)
{
    if (isnan(m->value))
        return bk_json_new_null();
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "value", m->value, decimals);
    bk_json_put_fixed(out, "low", m->low, decimals);
    bk_json_put_fixed(out, "high", m->high, decimals);
    bk_json_put_integer(out, "level_pct", BK_LEVEL_PCT);
    return out;
}

static void push_look(bk_json *list, const char *what, const char *here)
{
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "what", what);
    bk_json_put_text(out, "here", here[0] ? here : "not known");
    bk_json_push(list, out);
}

/* What else to look at, with what this case says of each. */
static bk_json *look_at(const bk_injury_asked *in)
{
    static const char *const courses[] = {"", "normal", "stable", "falling",
                                          "rising: what the procedure added cannot be told"};
    const bk_injury_facts *f = &in->facts;
    bk_json *list = bk_json_array();
    char text[160];
    push_look(list, "embolisation in the main vessel",
              f->flow_limiting == BK_YES  ? "a complication that limits flow was noted"
              : f->flow_limiting == BK_NO ? "no complication that limits flow was noted"
                                          : "");
    push_look(list, "another branch",
              in->patient.c->anatomy.extra_limb
                  ? "a fourth limb is entered"
                  : "not recorded: look at septals and small branches on the last run");
    bk_format(text, sizeof text, "side branch TIMI %d at the end", in->in.side_branch_timi_final);
    push_look(list, "no-reflow", in->in.side_branch_timi_final == BK_INTEGER_ABSENT ? "" : text);
    bk_format(
        text, sizeof text,
        "this branch was closed for %.0f min; pain, ST shift and pressure during long inflations elsewhere",
        in->in.occlusion_minutes.value);
    push_look(list, "ischaemia that lasted", bk_has(in->in.occlusion_minutes) ? text : "");
    push_look(list, "a changed assay",
              in->troponin.assay_changed
                  ? "limit, unit or test differ between the samples: they cannot be compared"
              : in->troponin.after_n ? "the same limit and unit in all samples"
                                     : "");
    bk_format(text, sizeof text, "eGFR %.0f mL/min/1.73 m2", in->patient.kidney.egfr);
    push_look(list, "the kidney",
              in->patient.kidney.no_formula    ? "on dialysis, or creatinine not stable"
              : isnan(in->patient.kidney.egfr) ? ""
                                               : text);
    push_look(list, "a rising baseline", courses[in->in.baseline_course]);
    return list;
}

static const char *time_course(double hours)
{
    const bk_evidence *peak = bk_patient_row(BK_EVIDENCE("troponin_peak"));
    if (isnan(hours))
        return "the time of the peak sample was not said; the peak is expected 12 to 24 h after";
    if (hours < peak->low)
        return "sampled before 12 h: the peak, expected 12 to 24 h after, may still come";
    return hours > peak->high ? "the peak came after 24 h, later than the expected 12 to 24 h"
                              : "within the expected 12 to 24 h";
}

static bk_json *associations(bk_answer *answer)
{
    static const char *const rows[] = {BK_EVIDENCE("mri_new_loss"),  BK_EVIDENCE("cobis_injury"),
                                       BK_EVIDENCE("silvain_three"), BK_EVIDENCE("silvain_injury"),
                                       BK_EVIDENCE("silvain_five"),  BK_EVIDENCE("silvain_4a"),
                                       BK_EVIDENCE("mri_infarct")};
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_patient_push_row(list, rows[i], answer);
    return list;
}

static void put_side_by_side(const bk_injury_asked *in, const mass *m, double rise, bk_json *out)
{
    const double minutes = bk_value(in->in.occlusion_minutes);
    char text[300], grams[60] = "an unknown mass", closed[60] = "closure not recorded",
                    risen[60] = "rise not known";
    if (!isnan(m->grams.value))
        bk_format(grams, sizeof grams, "about %.0f g (%.0f to %.0f)", m->grams.value, m->grams.low,
                  m->grams.high);
    if (in->facts.side_occluded == BK_NO)
        bk_format(closed, sizeof closed, "never closed");
    else if (!isnan(minutes))
        bk_format(closed, sizeof closed, "closed for %.0f min", minutes);
    else if (in->facts.side_occluded == BK_YES)
        bk_format(closed, sizeof closed, "closed, minutes not recorded");
    if (!isnan(rise))
        bk_format(risen, sizeof risen, "troponin rose by %.3g times its limit", rise);
    bk_format(text, sizeof text, "Behind the side branch %s; %s%s; %s.", grams, closed,
              in->facts.side_lost_at_end == BK_YES ? ", flow limited at the end" : "", risen);
    bk_json_put_text(out, "text", text);
    bk_json_put(out, "mass_g", amount(&m->grams, 1));
    bk_json_put(out, "mass_pct", amount(&m->percent, 1));
    bk_json_put_text(out, "mass_method",
                     m->method < BK_TERRITORY_METHODS ? bk_territory_method_names[m->method] : NULL);
    bk_json_put_fixed(out, "minutes_closed", minutes, 0);
    bk_json_put_text(out, "closed", bk_tri_name(in->facts.side_occluded));
    bk_json_put_text(out, "flow_limited_at_end", bk_tri_name(in->facts.side_lost_at_end));
    bk_json_put_fixed(out, "rise_x", rise, 2);
    bk_json_put_text(out, "time_course", time_course(in->facts.hours_after));
}

bk_json *bk_injury_territory(const bk_injury_asked *in, bk_answer *answer)
{
    const mass m = side_mass(&in->patient);
    const double rise = in->facts.troponin_peak - in->facts.troponin_before;
    const bk_side_by_side sides = {rise,
                                   bk_value(in->in.occlusion_minutes),
                                   m.percent.low,
                                   m.percent.high,
                                   in->facts.side_occluded,
                                   in->facts.side_lost_at_end};
    bool present[BK_DISPROPORTIONS];
    const bk_tri out_of = bk_out_of_proportion(&sides, bk_evidence_builtin(), present);
    bk_json *out = bk_json_object(), *flags = bk_json_array();
    put_side_by_side(in, &m, rise, out);
    for (int i = 0; i < BK_DISPROPORTIONS; i++)
        if (present[i])
            bk_json_push(flags, bk_json_new_text(bk_disproportion_words[i]));
    bk_json_put_text(out, "out_of_proportion", bk_tri_name(out_of));
    bk_json_put(out, "flags", flags);
    bk_json_put(out, "look_at", look_at(in));
    bk_json_put(out, "associations", associations(answer));
    bk_json_put_text(out, "no_conversion", bk_patient_row(BK_EVIDENCE("mri_slope"))->text);
    bk_json_put_text(out, "standing",
                     bk_standing_name(bk_patient_row(BK_EVIDENCE("territory_small_rise"))->standing));
    static const char *const rows[] = {BK_EVIDENCE("mri_slope"), BK_EVIDENCE("troponin_peak"),
                                       BK_EVIDENCE("closure_minutes"), BK_EVIDENCE("territory_small_rise"),
                                       BK_EVIDENCE("look_elsewhere")};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
    if (m.method == BK_TERRITORY_METHODS)
        bk_answer_missing(answer, "anatomy.segments.side.vessel_length_mm",
                          "with the site, gives the muscle behind the branch (ask territory)");
    return out;
}
