/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is watched in the room: radiation, heparin and ACT, the other parenteral drugs. */
#include <math.h>

#include "app/ask_budget.h"
#include "base/format.h"
#include "core/patient/anticoagulation.h"
#include "core/patient/lines.h"
#include "core/patient/radiation.h"

/* ---- radiation ---- */

static double skin_dose(const bk_patient_asked *in, const char **how)
{
    const bk_procedure *p = &in->c->procedure;
    *how = NULL;
    if (bk_has(p->skin_dose_gy)) {
        *how = "entered";
        return p->skin_dose_gy.value;
    }
    if (isnan(in->live.air_kerma_gy) || !bk_has(p->reference_distance_cm) || !bk_has(p->skin_distance_cm))
        return (double)NAN;
    *how = "estimated from air kerma, one field, off by half either way at least";
    return bk_skin_dose_gy(in->live.air_kerma_gy, p->reference_distance_cm.value, p->skin_distance_cm.value,
                           p->table_in_beam != BK_NO, bk_evidence_builtin());
}

static void push_notice(bk_json *list, bk_dose_metric metric, double at, const char *kind, const char *row)
{
    char text[160];
    bk_json *out = bk_json_object();
    bk_format(text, sizeof text, "%g %s of %s reached: %s", at, bk_dose_units[metric], bk_dose_words[metric],
              kind);
    bk_json_put_text(out, "metric", bk_dose_words[metric]);
    bk_json_put_real(out, "at", at);
    bk_json_put_text(out, "unit", bk_dose_units[metric]);
    bk_json_put_text(out, "kind", kind);
    bk_json_put_text(out, "text", text);
    bk_json_put_text(out, "source", row);
    bk_json_put_text(out, "standing", bk_standing_name(bk_patient_row(row)->standing));
    bk_json_push(list, out);
}

/* Returns whether the follow-up level of this metric is reached. */
static bool push_metric(bk_json *notices, bk_json *next, bk_dose_metric metric, double reading,
                        bk_answer *answer)
{
    const bk_dose_levels levels = bk_dose_levels_of(metric, bk_evidence_builtin());
    const bk_notices got = bk_notices_of(reading, &levels);
    for (int i = 0; i < got.n; i++)
        push_notice(notices, metric, levels.first + i * levels.every, "notice", levels.first_row);
    if (got.substantial)
        push_notice(notices, metric, levels.substantial, "follow-up level", levels.substantial_row);
    if (!isnan(got.next)) {
        bk_json *entry = bk_json_object();
        bk_json_put_text(entry, "metric", bk_dose_words[metric]);
        bk_json_put_fixed(entry, "now", reading, 2);
        bk_json_put_real(entry, "next_notice", got.next);
        bk_json_put_real(entry, "follow_up_from", levels.substantial);
        bk_json_put_text(entry, "unit", bk_dose_units[metric]);
        bk_json_push(next, entry);
        bk_answer_source(answer, levels.first_row);
        bk_answer_source(answer, levels.substantial_row);
    }
    return got.substantial;
}

static bk_json *actions(const bk_patient_asked *in, double skin_gy, bool follow, bk_answer *answer)
{
    bk_json *list = bk_json_array();
    const bk_evidence_set *evidence = bk_evidence_builtin();
    if (follow ||
        bk_above(in->live.air_kerma_gy, bk_evidence_value(evidence, BK_EVIDENCE("action_document")))) {
        bk_patient_push_row(list, BK_EVIDENCE("action_document"), answer);
        bk_patient_push_row(list, BK_EVIDENCE("skin_check"), answer);
        bk_patient_push_row(list, BK_EVIDENCE("sessions_sum"), answer);
    }
    if (bk_above(in->live.air_kerma_gy, bk_evidence_value(evidence, BK_EVIDENCE("action_physicist"))))
        bk_patient_push_row(list, BK_EVIDENCE("action_physicist"), answer);
    if (bk_above(skin_gy, bk_evidence_value(evidence, BK_EVIDENCE("action_sentinel"))))
        bk_patient_push_row(list, BK_EVIDENCE("action_sentinel"), answer);
    return list;
}

static void put_skin(bk_json *out, double skin_gy, const char *how, bk_answer *answer)
{
    const char *band = bk_skin_band_row(skin_gy, bk_evidence_builtin());
    bk_json_put_fixed(out, "skin_dose_gy", skin_gy, 2);
    bk_json_put_text(out, "skin_dose_how", how);
    bk_json_put_text(out, "skin_reaction", band ? bk_patient_row(band)->text : NULL);
    if (!band)
        return;
    bk_answer_source(answer, band);
    bk_answer_source(answer, BK_EVIDENCE("skin_backscatter"));
    bk_answer_source(answer, BK_EVIDENCE("skin_uncertainty"));
}

bk_json *bk_budget_radiation(const bk_patient_asked *in, bk_answer *answer)
{
    const char *how;
    const double skin_gy = skin_dose(in, &how);
    const double readings[BK_DOSE_METRICS] = {skin_gy, in->live.air_kerma_gy, in->live.kerma_area_gy_cm2,
                                              in->live.fluoroscopy_min};
    bk_json *out = bk_json_object(), *notices = bk_json_array(), *next = bk_json_array();
    bool any = false, follow = false;
    for (int m = 0; m < BK_DOSE_METRICS; m++) {
        any = any || !isnan(readings[m]);
        follow = push_metric(notices, next, (bk_dose_metric)m, readings[m], answer) || follow;
    }
    bk_json_put_fixed(out, "air_kerma_gy", in->live.air_kerma_gy, 3);
    bk_json_put_fixed(out, "kerma_area_gy_cm2", in->live.kerma_area_gy_cm2, 2);
    bk_json_put_fixed(out, "kerma_area_dgy_cm2",
                      in->live.kerma_area_gy_cm2 *
                          bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("kerma_area_unit")),
                      1);
    bk_json_put_fixed(out, "fluoroscopy_min", in->live.fluoroscopy_min, 1);
    bk_json_put_fixed(out, "mean_field_cm2",
                      bk_mean_field_cm2(in->live.kerma_area_gy_cm2, in->live.air_kerma_gy), 1);
    bk_json_put_text(out, "used_from", in->live.dose_from);
    put_skin(out, skin_gy, how, answer);
    bk_json_put(out, "notices", notices);
    bk_json_put(out, "next", next);
    bk_json_put_text(out, "follow_up", !any ? "unknown" : follow ? "yes" : "no");
    bk_json_put(out, "actions", actions(in, skin_gy, follow, answer));
    bk_answer_source(answer, BK_EVIDENCE("notice_kerma_substantial"));
    bk_answer_source(answer, BK_EVIDENCE("dose_reference_pci"));
    bk_answer_source(answer, BK_EVIDENCE("kerma_tolerance"));
    if (!any)
        bk_answer_missing(answer, "procedure.air_kerma_gy",
                          "neither the log nor the procedure has a dose: no notices");
    return out;
}

/* ---- heparin and ACT ---- */

static bk_json *range_json(const bk_range *range, const char *unit)
{
    if (isnan(range->low))
        return bk_json_new_null();
    const bk_evidence *row = bk_patient_row(range->row);
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "low", range->low, 0);
    bk_json_put_fixed(out, "high", range->high, 0);
    bk_json_put_text(out, "unit", unit);
    bk_json_put_text(out, "text", row->text);
    bk_json_put_text(out, "source", row->id);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    return out;
}

static bk_json *act_json(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_procedure *p = &in->c->procedure;
    const bk_range range =
        bk_act_range_s(p->gp_inhibitor, (enum bk_act_family)p->act_family, bk_evidence_builtin());
    const bool own = bk_has(p->act_interval_min);
    const double every = own ? p->act_interval_min.value
                             : bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("act_interval"));
    bk_json *out = bk_json_object();
    bk_json_put(out, "range_s", range_json(&range, "s"));
    bk_json_put_fixed(out, "last_s", in->live.act_s, 0);
    bk_json_put_text(out, "class", bk_act_class_words[bk_act_classify(in->live.act_s, &range)]);
    bk_json_put_fixed(out, "minutes_ago", in->live.act_minutes_ago, 0);
    bk_json_put_fixed(out, "interval_min", every, 0);
    bk_json_put_text(out, "interval_from", own ? "procedure.act_interval_min" : "common practice, 30 min");
    bk_json_put_fixed(out, "next_due_in_min", every - in->live.act_minutes_ago, 0);
    bk_json_put_text(out, "counted_from", in->live.act_from);
    if (range.row)
        bk_answer_source(answer, range.row);
    bk_answer_source(answer, BK_EVIDENCE("act_no_randomised_target"));
    bk_answer_source(answer, BK_EVIDENCE("act_interval"));
    if (p->gp_inhibitor == BK_UNKNOWN)
        bk_answer_missing(answer, "procedure.gp_inhibitor",
                          "decides which heparin range and which ACT range hold");
    else if (!range.row)
        bk_answer_missing(answer, "procedure.act_family",
                          "the same blood reads about 50 s apart on the two families of analysers");
    if (isnan(in->live.act_s))
        bk_answer_missing(answer, "procedure.act_s",
                          "no ACT is known: its class, and when the next one is due");
    return out;
}

/* Heparin is a drug like the others: no amount without weight and renal function. */
static const char *heparin_held(const bk_patient_asked *in)
{
    const int before = in->c->procedure.anticoagulant;
    if (isnan(in->weight_kg))
        return "needs the weight";
    if (isnan(in->kidney.crcl) && in->c->patient.dialysis != BK_YES)
        return "needs the renal function: creatinine, age, sex";
    if (before == BK_ON_HEPARIN)
        return "on heparin already: as needed to the ACT range";
    return before == BK_ON_ENOXAPARIN ? "on enoxaparin: no crossing over with heparin" : NULL;
}

static bk_json *bolus_json(const bk_patient_asked *in, bk_tri gp_inhibitor, const char *held,
                           bk_answer *answer)
{
    const bk_range range =
        bk_heparin_bolus_u(held ? (double)NAN : in->weight_kg, gp_inhibitor,
                           (enum bk_anticoagulant)in->c->procedure.anticoagulant, bk_evidence_builtin());
    if (range.row)
        bk_answer_source(answer, range.row);
    return range_json(&range, "U");
}

bk_json *bk_budget_heparin(const bk_patient_asked *in, bk_answer *answer)
{
    const bk_tri gpi = in->c->procedure.gp_inhibitor;
    const char *held = heparin_held(in);
    bk_json *out = bk_json_object();
    bk_json_put(out, "bolus_u", bolus_json(in, gpi, held, answer));
    bk_json_put(out, "without_gp_inhibitor_u", bolus_json(in, BK_NO, held, answer));
    bk_json_put(out, "with_gp_inhibitor_u", bolus_json(in, BK_YES, held, answer));
    bk_json_put_text(out, "gp_inhibitor", bk_tri_name(gpi));
    bk_json_put_text(out, "hold", held);
    bk_json_put_fixed(out, "weight_kg", in->weight_kg, 1);
    bk_json_put_fixed(out, "crcl_ml_min", in->kidney.crcl, 1);
    bk_json_put_fixed(out, "given_u", in->live.heparin_u, 0);
    bk_json_put_text(out, "label", "check local label");
    bk_json_put(out, "act", act_json(in, answer));
    bk_answer_source(answer, BK_EVIDENCE("heparin_round"));
    if (in->c->procedure.anticoagulant == BK_ON_HEPARIN)
        bk_answer_source(answer, BK_EVIDENCE("heparin_upstream"));
    return out;
}

bk_json *bk_budget_drugs(const bk_patient_asked *in, bk_answer *answer)
{
    bk_dose doses[BK_DOSES_MAX];
    const size_t n = bk_doses_of(in->weight_kg, &in->kidney, in->c->patient.dialysis, &in->c->procedure,
                                 bk_evidence_builtin(), doses);
    bk_json *list = bk_json_array();
    for (size_t i = 0; i < n; i++) {
        const bk_evidence *row = bk_patient_row(doses[i].row);
        bk_json *out = bk_json_object();
        bk_json_put_text(out, "drug", doses[i].drug);
        bk_json_put_text(out, "part", doses[i].part);
        const bool held = doses[i].why || doses[i].unverified;
        bk_json_put_fixed(out, "amount", held ? (double)NAN : doses[i].amount, 1);
        bk_json_put_text(out, "unit", doses[i].unit);
        bk_json_put_text(out, "hold",
                         doses[i].why || !held ? doses[i].why : "not verified: not worked out for a patient");
        bk_json_put_text(out, "text", row->text);
        bk_json_put_text(out, "label", "check local label");
        bk_json_put_text(out, "source", row->id);
        bk_json_put_text(out, "standing", bk_standing_name(row->standing));
        bk_json_push(list, out);
        bk_answer_source(answer, row->id);
    }
    bk_json *argatroban = bk_json_array();
    bk_patient_push_row(argatroban, BK_EVIDENCE("dose_argatroban_bolus"), answer);
    bk_patient_push_row(argatroban, BK_EVIDENCE("dose_protamine"), answer);
    bk_json *out = bk_json_object();
    bk_json_put(out, "doses", list);
    bk_json_put(out, "not_computed", argatroban);
    bk_json_put_fixed(out, "weight_kg", in->weight_kg, 1);
    bk_json_put_fixed(out, "crcl_ml_min", in->kidney.crcl, 1);
    return out;
}
