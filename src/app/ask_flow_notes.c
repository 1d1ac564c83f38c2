/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands around the numbers of `ask flow`: what is missing, when it cannot be said, cautions, sources. */
#include "app/ask_flow.h"

#include <math.h>

#include "base/format.h"

#define NAME_TEXT 80
enum { CONTEXT_GRAFT = 4, COLLATERALS_RECEIVES = 2, COLLATERALS_DONATES = 3 }; /* as in core/case/case_anatomy.c */

static const char *limb_path(char out[NAME_TEXT], int limb, const char *key)
{
    bk_format(out, NAME_TEXT, "anatomy.segments.%s.%s", bk_limb_names[limb], key);
    return out;
}

static bool refuse(bk_answer *answer, const char *name, const char *why)
{
    bk_answer_missing(answer, name, why);
    return false;
}

/* Is a daughter of the left main seen nearly to its end? */
static bool seen_to_the_end(const bk_limb_facts *limb)
{
    return bk_has(limb->length_mm.q) && bk_has(limb->vessel_length_mm.q) &&
           limb->length_mm.q.value >= 0.8 * limb->vessel_length_mm.q.value;
}

static bool situation_allows(const bk_case *c, const bk_facts *facts, bk_answer *answer)
{
    const int p = c->patient.presentation;
    if (c->anatomy.context == CONTEXT_GRAFT)
        return refuse(answer, "before", "a graft feeds the bed besides: the network has no place for it");
    if (c->anatomy.collaterals == COLLATERALS_DONATES)
        return refuse(answer, "before", "the vessel gives collaterals to another bed, whose size is not known");
    if (p == BK_STEMI || p == BK_SHOCK || p == BK_ARREST)
        return refuse(answer, "before", "an acute culprit, shock or arrest: the bed does not answer to hyperaemia");
    if (c->anatomy.site == BK_LEFT_MAIN &&
        !(seen_to_the_end(&facts->limb[BK_DISTAL]) && seen_to_the_end(&facts->limb[BK_SIDE])))
        return refuse(answer, "before",
                      "left main: disease further down either daughter changes the flow; needs length_mm of both "
                      "limbs to be at least 80 % of their vessel_length_mm");
    if (facts->agreement == BK_DISAGREE)
        return refuse(answer, "before", "the ways to the scale disagree, and losses go with its fourth power");
    return true;
}

bool bk_flow_can_be_said(const bk_case *c, const bk_facts *facts, bk_answer *answer)
{
    char name[NAME_TEXT];
    bool enough = situation_allows(c, facts, answer);
    for (int k = 0; k < BK_LIMBS; k++) {
        const char *lacks = bk_flow_lacks(&facts->limb[k]);
        if (lacks)
            enough = refuse(answer, limb_path(name, k, lacks), "without it no pressure can be said in any limb");
    }
    if (!bk_vessel_of(c->anatomy.site, BK_SIDE).grams)
        enough = refuse(answer, "anatomy.site", "tells the territory, and with it the flow that the beds ask for");
    return enough;
}

bk_json *bk_flow_measured(const bk_case *c)
{
    static const char *const index[] = {NULL, "ffr", "resting_ratio"};
    bk_json *out = bk_json_array();
    for (size_t i = 0; i < c->physiology.n; i++) {
        const bk_physiology *p = &BK_ITEMS(c->physiology, bk_physiology)[i];
        bk_json *item = bk_json_object();
        bk_json_put_text(item, "limb", p->limb > 0 && p->limb <= BK_LIMBS ? bk_limb_names[p->limb - 1] : NULL);
        bk_json_put_text(item, "stage", p->stage > 0 ? bk_stage_words[p->stage] : NULL);
        bk_json_put_text(item, "index", index[p->index]);
        bk_json_put_qty(item, "value", p->value, 3);
        bk_json_push(out, item);
    }
    return out;
}

static void assume(bk_json *list, const char *text)
{
    bk_json_push(list, bk_json_new_text(text));
}

bk_json *bk_flow_assumptions(const bk_flow_scene *scene)
{
    bk_json *out = bk_json_array();
    char text[240];
    assume(out, "mean aortic pressure is not in the case: 93 to 100 mmHg taken; venous pressure 0 to 5 mmHg");
    assume(out, "steady flow of one viscosity in rigid tubes; pressure at the far end of each limb as given, "
                "disease further down is not in it");
    assume(out, scene->site == BK_LEFT_MAIN
                    ? "the distal main limb is the LAD and the side branch the LCx, each with its published territory"
                    : "the bifurcation feeds the whole published territory of its vessel, divided between the daughters "
                      "by their healthy diameters");
    assume(out, "hyperaemic flow per gram of healthy controls; no collaterals");
    assume(out, "resting pressures come from beds with the resting resistance, which does not adapt");
    for (int k = 0; k < BK_LIMBS; k++) {
        if (!scene->simple[k] || scene->occluded[k])
            continue;
        bk_format(text, sizeof text, "%s: no lumen curve, a lesion of cosine shape that reaches the bifurcation%s",
                  bk_limb_names[k], scene->length_assumed[k] ? ", and 10 mm of healthy vessel" : "");
        assume(out, text);
    }
    assume(out, "a stented stretch has 95 % of its reference; struts across an ostium lose nothing");
    return out;
}

static void note_inputs(const bk_facts *facts, bk_answer *answer)
{
    char name[NAME_TEXT];
    for (int k = 0; k < BK_LIMBS; k++) {
        const bk_limb_facts *limb = &facts->limb[k];
        bk_answer_input(answer, limb_path(name, k, "reference_mm"), &limb->reference_mm, "mm", facts->measurement);
        bk_answer_input(answer, limb_path(name, k, "mld_mm"), &limb->mld_mm, "mm", facts->measurement);
        if (limb->curve.n < 2) {
            bk_answer_input(answer, limb_path(name, k, "lesion_length_mm"), &limb->lesion_length_mm, "mm",
                            facts->measurement);
            bk_answer_input(answer, limb_path(name, k, "length_mm"), &limb->length_mm, "mm", facts->measurement);
        } else {
            bk_answer_input_text(answer, limb_path(name, k, "curve"),
                                 limb->mld_mm.from == BK_FROM_SOLID ? "of the solid" : "of the newest baseline measurement",
                                 "measured");
        }
    }
    bk_answer_input(answer, "anatomy.angles.proximal_side_deg", &facts->proximal_side_deg, "deg", facts->measurement);
}

static void note_cautions(const bk_case *c, const bk_flow_scene *scene, bk_answer *answer)
{
    bk_answer_caution(answer, "Computed from pictures, never measured: a wire value leads. As a class such indices have "
                              "sensitivity 89 and specificity 90 %%, and a randomised trial found more events than with the "
                              "wire (see sources). This program has not been compared with wires.");
    if (c->anatomy.collaterals == COLLATERALS_RECEIVES)
        bk_answer_caution(answer, "The side branch receives collaterals of unknown size: its bed is fed better, and an "
                                  "occluded limb's pressure is higher, than shown.");
    bk_answer_caution(answer, "The ostium after main stenting is read between a short ellipse and a circle: a circle from "
                              "one view over-calls jailed side branches badly.");
    if (scene->shift_deg > 90)
        bk_answer_caution(answer, "Parent axis and side branch stand at more than 90 degrees: the carina model is not "
                                  "defined there and gives no shift.");
    for (int k = 0; k < BK_LIMBS; k++)
        if (scene->mld_sd[k] <= 0 && !scene->occluded[k])
            bk_answer_caution(answer, "%s: the narrowest lumen has no SD, its interval is too narrow.", bk_limb_names[k]);
}

void bk_flow_note(const bk_case *c, const bk_facts *facts, const bk_flow_scene *scene, bk_answer *answer)
{
    bk_answer_caution(answer, "The muscle behind each vessel and its flow per gram are not verified (from memory, see sources), and every pressure here rests on them.");
    static const char *const rows[] = {BK_EVIDENCE("flow_viscosity"),      BK_EVIDENCE("flow_density"),
                                       BK_EVIDENCE("flow_aortic"),         BK_EVIDENCE("flow_venous"),
                                       BK_EVIDENCE("flow_rest_ratio"),     BK_EVIDENCE("flow_split"),
                                       BK_EVIDENCE("carina_cosine"),       BK_EVIDENCE("jailed_ellipse"),
                                       BK_EVIDENCE("stent_recoil"),        BK_EVIDENCE("flow_class_accuracy"),
                                       BK_EVIDENCE("flow_class_trial"),    BK_EVIDENCE("flow_class_difference"),
                                       BK_EVIDENCE("visual_stenosis_sd")};
    note_inputs(facts, answer);
    bk_answer_missing(answer, "pa_mmhg", "no aortic pressure in the case: the usual one is taken");
    if (isnan(scene->shift_deg))
        bk_answer_missing(answer, "anatomy.angles.proximal_side_deg",
                          "tells how far main stenting shifts the carina: no answer after provisional stenting");
    note_cautions(c, scene, answer);
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bk_vessel_rows vessel = bk_vessel_of(c->anatomy.site, k);
        bk_answer_source(answer, vessel.grams);
        bk_answer_source(answer, vessel.per_gram);
    }
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
}
