/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The follow-up sheet: what is done when, and what the ward is told. */
#include <math.h>

#include "app/ask_injury.h"
#include "base/format.h"
#include "core/patient/bleeding.h"
#include "core/patient/contrast.h"
#include "core/patient/lines.h"
#include "core/patient/radiation.h"

static void push(bk_json *list, const char *id, const char *when, const char *what, const char *why,
                 const char *row, bk_answer *answer)
{
    const bk_evidence *found = bk_patient_row(row);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", id);
    bk_json_put_text(out, "when", when);
    bk_json_put_text(out, "what", what);
    bk_json_put_text(out, "why", why && why[0] ? why : NULL);
    bk_json_put_text(out, "source", found->id);
    bk_json_put_text(out, "standing", bk_standing_name(found->standing));
    bk_json_push(list, out);
    bk_answer_source(answer, found->id);
}

static void sampling(const bk_injury_asked *in, bk_json *list, bk_answer *answer)
{
    push(list, "troponin", "3 to 6 h after", "troponin, the same assay as before",
         isnan(in->facts.troponin_before)
             ? "no baseline is recorded: without one no definition can be applied"
             : NULL,
         BK_EVIDENCE("eapci2021_sampling"), answer);
    push(list, "troponin_again", "12 to 24 h after", "troponin again if the first is raised",
         "the peak is expected then", BK_EVIDENCE("eapci2021_sampling_late"), answer);
    push(list, "ecg", "now, at pain, next morning", "12-lead ECG",
         "Q waves, bundle branch block and ST shift decide definitions", BK_EVIDENCE("follow_ecg"), answer);
}

static void kidney(const bk_injury_asked *in, bk_json *list, bk_answer *answer)
{
    char why[200] = "";
    bk_contrast_limit limits[BK_CONTRAST_RULES];
    const bk_patient_asked *p = &in->patient;
    int passed = 0, known = 0;
    if (p->c->patient.dialysis == BK_YES) {
        push(list, "kidney", "as for dialysis", "no creatinine for kidney injury",
             "on dialysis it says nothing", BK_EVIDENCE("contrast_dialysis"), answer);
        return;
    }
    bk_contrast_limits(&p->kidney, p->weight_kg, p->live.contrast_ml, bk_evidence_builtin(), limits);
    for (int i = 0; i < BK_CONTRAST_RULES; i++) {
        known += limits[i].passed != BK_UNKNOWN;
        passed += limits[i].passed == BK_YES;
    }
    if (known && !isnan(p->kidney.egfr))
        bk_format(why, sizeof why, "%.0f mL contrast, eGFR %.0f before; %d of %d published limits passed",
                  p->live.contrast_ml, p->kidney.egfr, passed, known);
    else if (known)
        bk_format(why, sizeof why, "%.0f mL contrast, eGFR not known; %d of %d published limits passed",
                  p->live.contrast_ml, passed, known);
    push(list, "kidney", "48 to 72 h after", "creatinine, compared with the one before", why,
         BK_EVIDENCE("kidney_recheck"), answer);
}

static void skin(const bk_injury_asked *in, bk_json *list, bk_answer *answer)
{
    const bk_live *live = &in->patient.live;
    const double readings[BK_DOSE_METRICS] = {bk_value(in->patient.c->procedure.skin_dose_gy),
                                              live->air_kerma_gy, live->kerma_area_gy_cm2,
                                              live->fluoroscopy_min};
    char why[160] = "";
    bool any = false, follow = false;
    for (int m = 0; m < BK_DOSE_METRICS; m++) {
        const bk_dose_levels levels = bk_dose_levels_of((bk_dose_metric)m, bk_evidence_builtin());
        any = any || !isnan(readings[m]);
        if (follow || !bk_at_least(readings[m], levels.substantial))
            continue;
        follow = true;
        bk_format(why, sizeof why, "%s %.3g %s, follow-up from %g", bk_dose_words[m], readings[m],
                  bk_dose_units[m], levels.substantial);
    }
    if (follow)
        push(list, "skin", "2 to 4 weeks after", "look at the skin of the back; the patient is told", why,
             BK_EVIDENCE("skin_check"), answer);
    else
        push(list, "skin", any ? "none by the levels" : "cannot say",
             any ? "no skin check by the published levels" : "the dose is not recorded",
             any ? "below every follow-up level" : NULL, BK_EVIDENCE("notice_kerma_substantial"), answer);
}

static void drugs(const bk_injury_asked *in, bk_json *list, bk_answer *answer)
{
    const bk_patient *p = &in->patient.c->patient;
    if (p->presentation == BK_PRESENTATION_NOT_SAID)
        push(list, "drugs", "cannot say",
             "the presentation was not said: chronic and acute have different durations", NULL,
             BK_EVIDENCE("dapt_ccs_2019"), answer);
    else if (p->presentation == BK_CHRONIC)
        push(list, "drugs", "from now", "aspirin and clopidogrel; check local label",
             bk_patient_row(BK_EVIDENCE("dapt_ccs_2019"))->text, BK_EVIDENCE("dapt_ccs_2019"), answer);
    else
        push(list, "drugs", "from now",
             "aspirin and prasugrel or ticagrelor (clopidogrel where these are unfit); check local label",
             bk_patient_row(BK_EVIDENCE("dapt_acs_2023"))->text, BK_EVIDENCE("dapt_acs_2023"), answer);
    if (p->oral_anticoagulation == BK_YES)
        push(list, "anticoagulant", "from now", "with the oral anticoagulant; check local label",
             bk_patient_row(BK_EVIDENCE("dapt_af"))->text, BK_EVIDENCE("dapt_af"), answer);
}

static void ward(const bk_injury_asked *in, bk_json *list, bk_answer *answer)
{
    char what[240];
    const bk_injury_facts *f = &in->facts;
    const double minutes = bk_value(in->in.occlusion_minutes);
    const bk_hbr hbr = bk_hbr_of(&in->patient.c->patient, &in->patient.kidney, in->patient.haemoglobin_g_dl,
                                 bk_evidence_builtin());
    if (f->side_occluded == BK_YES && !isnan(minutes))
        bk_format(what, sizeof what, "the side branch was closed for %.0f min and is %s", minutes,
                  f->side_lost_at_end == BK_YES  ? "without normal flow at the end"
                  : f->side_lost_at_end == BK_NO ? "open at the end"
                                                 : "of unknown flow at the end");
    else
        bk_format(what, sizeof what, "the side branch %s",
                  f->side_occluded == BK_YES  ? "was closed; minutes not recorded"
                  : f->side_occluded == BK_NO ? "stayed open"
                                              : "is not described in the record");
    push(list, "ward", "at hand-over", what,
         "chest pain, ST shift or hypotension: call the operator, ECG at once", BK_EVIDENCE("follow_branch"),
         answer);
    bk_format(what, sizeof what, "access site, haemoglobin%s",
              hbr.high == BK_YES ? " next morning: high bleeding risk by ARC" : "");
    push(list, "access", "before discharge", what,
         hbr.high == BK_UNKNOWN ? "bleeding risk by ARC: cannot say, criteria are missing" : NULL,
         BK_EVIDENCE("follow_access"), answer);
}

bk_json *bk_follow_up(const bk_injury_asked *in, bk_answer *answer)
{
    bk_json *list = bk_json_array();
    sampling(in, list, answer);
    kidney(in, list, answer);
    skin(in, list, answer);
    drugs(in, list, answer);
    ward(in, list, answer);
    return list;
}
