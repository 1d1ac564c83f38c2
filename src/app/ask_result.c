/* SPDX-License-Identifier: GPL-3.0-or-later */
/* ask result: each limb against published lines, and procedural success by each named definition. */
#include <math.h>
#include <string.h>

#include "app/ask_patient.h"
#include "app/case.h"
#include "base/format.h"
#include "core/outcome/injury.h"
#include "core/outcome/result.h"

#define MEASURED_CAP ((size_t)128 * 1024 * 1024)

typedef struct asked_result {
    bk_result_pair pair;
    bk_result_facts facts;
} asked_result;

/* ---- what is known ---- */

static const char *text_of(const bk_json *injury, const char *id)
{
    const bk_json *list = bk_json_get(injury, "definitions");
    for (size_t i = 0; i < bk_json_count(list); i++)
        if (strcmp(bk_json_text(bk_json_get(bk_json_at(list, i), "id")), id) == 0)
            return bk_json_text(bk_json_get(bk_json_at(list, i), "verdict"));
    return "";
}

/* As entered; else by a definition of injury whose verdict is one of the words. */
static bk_tri infarction(bk_tri entered, const char *verdict, const char *const yes[2],
                         const char *const no[4])
{
    if (entered != BK_UNKNOWN)
        return entered;
    for (size_t i = 0; i < 2 && yes[i]; i++)
        if (strcmp(verdict, yes[i]) == 0)
            return BK_YES;
    for (size_t i = 0; i < 4 && no[i]; i++)
        if (strcmp(verdict, no[i]) == 0)
            return BK_NO;
    return BK_UNKNOWN;
}

static bk_tri severe_bleeding(const char *barc)
{
    return !barc[0] ? BK_UNKNOWN : barc[0] == '3' || barc[0] == '5' ? BK_YES : BK_NO;
}

static void events(const bk_asked *asked, bk_result_facts *facts)
{
    static const char *const arc_yes[2] = {"mi", NULL}, *const arc_no[4] = {"not_met", NULL};
    static const char *const udmi_yes[2] = {"type_4a", NULL}, *const udmi_no[4] = {"none", "injury", NULL};
    const bk_result_input *in = &asked->c->result;
    bk_answer own = bk_answer_start("injury");
    bk_answer_injury(asked, &own);
    bk_json *injury = bk_answer_finish(&own);
    facts->infarction_arc = infarction(in->infarction, text_of(injury, "arc2"), arc_yes, arc_no);
    facts->infarction_universal = infarction(in->infarction, text_of(injury, "udmi4"), udmi_yes, udmi_no);
    facts->bleeding_3_or_5 = severe_bleeding(bk_json_text(bk_json_path(injury, "bleeding.barc")));
    bk_json_free(injury);
    facts->death = in->death;
    facts->revascularisation = in->revascularisation;
    facts->stroke = in->stroke;
    facts->bypass_surgery = in->bypass_surgery;
}

static int first_grade(int a, int b, double log)
{
    return a != BK_INTEGER_ABSENT   ? a
           : b != BK_INTEGER_ABSENT ? b
           : isnan(log)             ? BK_INTEGER_ABSENT
                                    : (int)log;
}

static asked_result gather(const bk_asked *asked, bk_answer *answer)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    const bk_case *c = asked->c;
    bk_measured *measured = NULL;
    bk_arena arena;
    bk_arena_init(&arena, MEASURED_CAP);
    size_t n = bk_json_count(c->measurements);
    if (bk_app_case_measured(c, &arena, &measured, NULL) != BK_OK) {
        n = 0;
        bk_answer_caution(answer, "The measurements need more memory than there is: they are left out.");
    }
    asked_result out = {.pair = bk_result_pair_of(measured, n, evidence)};
    bk_result_limbs(c, measured, &out.pair, evidence, out.facts.limb);
    bk_arena_clear(&arena);
    out.facts.site = c->anatomy.site;
    out.facts.wires_out = c->result.wires_out;
    out.facts.dissection =
        c->result.dissection_grade ? c->result.dissection_grade : c->injury.dissection_grade;
    bk_limb_outcome *side = &out.facts.limb[BK_SIDE];
    side->timi =
        first_grade(side->timi, c->injury.side_branch_timi_final, bk_live_of(c, answer).side_timi_last);
    events(asked, &out.facts);
    return out;
}

/* ---- the parts ---- */

static bk_json *check_json(const bk_check *check)
{
    const bk_evidence *row = bk_patient_row(check->row);
    bk_json *out = bk_json_object();
    bk_json_put_text(out, "id", check->id);
    bk_json_put_text(out, "text", check->text);
    bk_json_put_text(out, "met", bk_tri_name(check->met));
    if (check->value_word)
        bk_json_put_text(out, "value", check->value_word);
    else
        bk_json_put_fixed(out, "value", check->value, 1);
    if (check->threshold_word)
        bk_json_put_text(out, "threshold", check->threshold_word);
    else
        bk_json_put_fixed(out, "threshold", check->threshold, 1);
    bk_json_put_text(out, "unit",
                     strcmp(check->unit, "none") == 0 || strcmp(check->unit, "1") == 0 ? NULL : check->unit);
    bk_json_put_fixed(out, "threshold_certainty_pct", check->certainty_pct, 0);
    bk_json_put_text(out, "why", check->why[0] ? check->why : NULL);
    bk_json_put_text(out, "line", row->text);
    bk_json_put_text(out, "source", check->row);
    bk_json_put_text(out, "standing", bk_standing_name(row->standing));
    return out;
}

static bk_json *checks(const asked_result *in, bk_answer *answer)
{
    bk_check all[BK_CHECKS_MAX];
    bk_json *list = bk_json_array();
    const size_t n = bk_result_checks(&in->facts, bk_evidence_builtin(), all);
    for (size_t i = 0; i < n; i++) {
        char why[160];
        bk_json_push(list, check_json(&all[i]));
        bk_answer_source(answer, all[i].row);
        bk_format(why, sizeof why, "check %s", all[i].id);
        if (all[i].needs[0])
            bk_answer_missing(answer, all[i].needs, why);
    }
    return list;
}

static bk_json *success(const asked_result *in, bk_answer *answer)
{
    static const char *const verdicts[] = {"cannot_say", "not_met", "met"};
    bk_success all[BK_SUCCESSES];
    bk_json *list = bk_json_array();
    bk_result_success(&in->facts, bk_evidence_builtin(), all);
    for (int d = 0; d < BK_SUCCESSES; d++) {
        const bk_evidence *row = bk_patient_row(all[d].row);
        bk_json *out = bk_json_object();
        bk_json_put_text(out, "definition", bk_success_ids[d]);
        bk_json_put_text(out, "name", bk_success_names[d]);
        bk_json_put_text(out, "verdict", verdicts[all[d].met]);
        bk_json_put_text(out, "why", all[d].why);
        bk_json_put_text(out, "text", row->text);
        bk_json_put_text(out, "source", row->id);
        bk_json_put_text(out, "standing", bk_standing_name(row->standing));
        bk_json_push(list, out);
        bk_answer_source(answer, row->id);
        for (size_t i = 0; i < BK_SUCCESS_NEEDS_MAX && all[d].needs[i]; i++)
            bk_answer_missing(answer, all[d].needs[i], "a definition of procedural success asks for it");
    }
    return list;
}

static bk_json *pair_json(const bk_result_pair *pair)
{
    bk_json *out = bk_json_object();
    if (pair->baseline < 0)
        bk_json_put_null(out, "baseline");
    else
        bk_json_put_integer(out, "baseline", pair->baseline);
    if (pair->final < 0)
        bk_json_put_null(out, "final");
    else
        bk_json_put_integer(out, "final", pair->final);
    bk_json_put_fixed(out, "apart_deg", pair->apart_deg, 1);
    bk_json_put_text(out, "same_view", bk_tri_name(pair->same_view));
    return out;
}

static bk_json *limbs(const asked_result *in)
{
    static const char *const froms[] = {NULL, "entered", "measured, same view", "measured, another view",
                                        "measured, nothing to compare with"};
    bk_json *out = bk_json_object();
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bk_limb_outcome *l = &in->facts.limb[limb];
        bk_json *json = bk_json_object();
        bk_json_put_qty(json, "before_pct", l->baseline_pct, 1);
        bk_json_put_qty(json, "residual_pct", l->stenosis_pct, 1);
        bk_json_put_text(json, "residual_from", froms[l->from]);
        bk_json_put_qty(json, "gain_mm", l->gain_mm, 2);
        bk_json_put(out, bk_limb_name(limb), json);
    }
    return out;
}

static void note_inputs(const asked_result *in, bk_answer *answer)
{
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const bk_limb_outcome *l = &in->facts.limb[limb];
        char name[64];
        const bk_fact residual = {l->stenosis_pct,
                                  l->from == BK_RESIDUAL_ENTERED ? BK_FROM_NOWHERE : BK_FROM_MEASUREMENT};
        bk_format(name, sizeof name, "result.segments.%s.stenosis_pct", bk_limb_name(limb));
        bk_answer_input(answer, name, &residual, "%", in->pair.final);
        const bk_fact area = {l->msa_mm2, BK_FROM_NOWHERE}, reference = {l->reference_mm2, BK_FROM_NOWHERE};
        bk_format(name, sizeof name, "imaging: stent area, %s", bk_limb_name(limb));
        bk_answer_input(answer, name, &area, "mm2", -1);
        bk_format(name, sizeof name, "imaging: reference area, %s", bk_limb_name(limb));
        bk_answer_input(answer, name, &reference, "mm2", -1);
    }
}

static void cautions(const asked_result *in, bk_answer *answer)
{
    bool eye = false, area = false;
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        eye = eye || (bk_has(in->facts.limb[limb].stenosis_pct) &&
                      in->facts.limb[limb].stenosis_pct.origin == BK_VISUAL);
        area = area || bk_has(in->facts.limb[limb].msa_mm2);
    }
    if (in->pair.final >= 0 && in->pair.same_view == BK_NO)
        bk_answer_caution(answer,
                          "The final picture is %.0f degrees from the baseline's: its residual stenoses are "
                          "shown and not judged.",
                          in->pair.apart_deg);
    if (in->pair.final >= 0 && in->pair.same_view == BK_UNKNOWN)
        bk_answer_caution(answer, "Whether the final picture is in the view of a baseline is not known: "
                                  "residual stenoses are shown and not judged.");
    if (eye) {
        bk_answer_source(answer, BK_EVIDENCE("result_visual_underread"));
        bk_answer_source(answer, BK_EVIDENCE("visual_stenosis_sd"));
        bk_answer_caution(answer, "%s", bk_patient_row(BK_EVIDENCE("result_visual_underread"))->text);
    }
    if (area) {
        bk_answer_source(answer, BK_EVIDENCE("imaging_side_specific"));
        bk_answer_source(answer, BK_EVIDENCE("imaging_expansion_seen"));
        bk_answer_caution(
            answer,
            "Lines for stent areas are from memory: check them before anything is done because of them.");
    }
    bk_answer_source(answer, BK_EVIDENCE("result_same_view"));
    bk_answer_source(answer, BK_EVIDENCE("result_side_branch_lost"));
    bk_answer_caution(answer, "The ostium of a jailed branch looks tighter than it is: flow and pressure "
                              "decide before another device does.");
    bk_answer_caution(answer, "Definitions of success differ: all stand side by side, none is the verdict.");
}

void bk_answer_result(const bk_asked *asked, bk_answer *answer)
{
    const asked_result in = gather(asked, answer);
    note_inputs(&in, answer);
    bk_json_put(answer->json, "checks", checks(&in, answer));
    bk_json_put(answer->json, "procedural_success", success(&in, answer));
    bk_json_put(answer->json, "limbs", limbs(&in));
    bk_json_put(answer->json, "pair", pair_json(&in.pair));
    cautions(&in, answer);
}
