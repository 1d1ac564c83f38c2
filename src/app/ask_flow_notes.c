/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands around the numbers of `ask flow`: what is missing, when it cannot be said, cautions, sources. */
#include "app/ask_flow.h"

#include <string.h>

#include "base/format.h"

#define NAME_TEXT 80
enum { COLLATERALS_DONATES = 3 }; /* as in core/case/case_anatomy.c */

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

/* Is a wire said to lie in this limb in a document? */
static bool wire_in(const bk_json *document, int limb)
{
    const bk_json *list = bk_json_get(document, "wire_in_limb");
    for (size_t i = 0; i < bk_json_count(list); i++)
        if (strcmp(bk_json_text(bk_json_at(list, i)), bk_limb_names[limb]) == 0)
            return true;
    return false;
}

/* The lumen of a limb was taken while a wire lay in it. */
static bool lumen_with_wire(const bk_case *c, const bk_facts *facts, int limb)
{
    const bk_from from = facts->limb[limb].mld_mm.from;
    const bk_json *views = bk_json_get(c->solid, "views");
    if (from == BK_FROM_MEASUREMENT)
        return wire_in(bk_json_at(c->measurements, (size_t)facts->measurement), limb);
    for (size_t i = 0; from == BK_FROM_SOLID && i < bk_json_count(views); i++)
        if (wire_in(bk_json_at(views, i), limb))
            return true;
    return false;
}

static bool situation_allows(const bk_case *c, const bk_facts *facts, bk_answer *answer)
{
    const int p = c->patient.presentation;
    char why[160];
    if (c->anatomy.context == BK_GRAFT_ANASTOMOSIS)
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
    for (int k = 0; k < BK_LIMBS; k++) {
        if (!lumen_with_wire(c, facts, k))
            continue;
        bk_format(why, sizeof why, "a wire lay in the %s limb when its lumen was measured: it straightens, narrows and hides "
                                   "the lumen that the losses hang on", bk_limb_names[k]);
        return refuse(answer, "before", why);
    }
    return true;
}

static bool wedge_fits(const bk_case *c, const bk_facts *facts, bk_answer *answer)
{
    char name[NAME_TEXT];
    const bk_qty aortic = c->patient.aortic_mean_mmhg;
    const double limit = bk_has(aortic) ? aortic.value
                                        : bk_evidence_low(bk_evidence_builtin(), BK_EVIDENCE("flow_aortic"));
    for (int k = 0; k < BK_LIMBS; k++)
        if (bk_has(facts->limb[k].wedge_mmhg) && facts->limb[k].wedge_mmhg.value >= limit)
            return refuse(answer, limb_path(name, k, "wedge_mmhg"),
                          "a wedge pressure below the aortic pressure is needed (patient.aortic_mean_mmhg)");
    return true;
}

bool bk_flow_can_be_said(const bk_case *c, const bk_facts *facts, bk_answer *answer)
{
    char name[NAME_TEXT];
    bool enough = situation_allows(c, facts, answer);
    if (!wedge_fits(c, facts, answer))
        enough = false;
    for (int k = 0; k < BK_LIMBS; k++) {
        const char *lacks = bk_flow_lacks(&facts->limb[k]);
        if (lacks)
            enough = refuse(answer, limb_path(name, k, lacks), "without it no pressure can be said in any limb");
    }
    if (!bk_vessel_of(c->anatomy.site, BK_SIDE, facts->dominance, bk_evidence_builtin()).grams)
        enough = refuse(answer, "anatomy.site", "tells the territory, and with it the flow that the beds ask for");
    return enough;
}

const bk_physiology *bk_flow_measured_before(const bk_case *c, int limb)
{
    const bk_physiology *best = NULL;
    for (size_t i = 0; i < c->physiology.n; i++) {
        const bk_physiology *p = &BK_ITEMS(c->physiology, bk_physiology)[i];
        const bool before = p->stage == BK_STAGE_BASELINE || p->stage == BK_STAGE_NOT_SAID;
        const bool weaker = best && best->index == BK_INDEX_FFR && p->index != BK_INDEX_FFR;
        if (p->limb == limb + 1 && before && p->index != BK_INDEX_NOT_SAID && bk_has(p->value) && !weaker)
            best = p;
    }
    return best;
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

static void assume_flow(const bk_flow_scene *scene, bk_json *out)
{
    char text[280];
    if (bk_has(scene->front_cm_s)) {
        bk_format(text, sizeof text,
                  "flow at rest from the front velocity of %.1f cm/s over the proximal reference, at hyperaemia 2.8 (SD "
                  "0.9) times as much",
                  scene->front_cm_s.value);
        assume(out, text);
        return;
    }
    assume(out, scene->site == BK_LEFT_MAIN
                    ? "the distal main limb is the LAD and the side branch the LCx, each with its whole territory"
                    : "of the vessel's territory the part behind this bifurcation, by the proximal reference against the "
                      "usual calibre at the vessel's origin, divided between the daughters by their healthy diameters");
    assume(out, bk_has(scene->lv_mass_g) ? "the vessel's territory is its published share of the LV mass that was entered"
                                         : "the vessel's territory is the published one, whatever the size of the heart");
    assume(out, "hyperaemic flow per gram of healthy controls");
}

static const char *decided(bk_qty nominal)
{
    return nominal.origin == BK_DERIVED ? "" : " as decided";
}

static void assume_treatment(const bk_flow_scene *scene, bk_json *out)
{
    char text[240];
    const bk_qty *mm = scene->stent_mm;
    bk_format(text, sizeof text, "nominal diameters: proximal (POT) %.2f mm%s, distal %.2f mm%s, side %.2f mm%s",
              mm[BK_PROXIMAL].value, decided(mm[BK_PROXIMAL]), mm[BK_DISTAL].value, decided(mm[BK_DISTAL]),
              mm[BK_SIDE].value, decided(mm[BK_SIDE]));
    assume(out, text);
    assume(out, "a stent keeps its nominal diameter less recoil and never narrows; it covers the lesions of its limbs, "
                "or as far as the decision says; struts across an ostium lose nothing");
    assume(out, "a jailed wire or balloon keeps the branch open on the way: the lumen it leaves is taken as without it");
    assume(out, "a side balloon leaves 30 % stenosis, between 0 and 50; a drug-coated one is used only at 30 % or less");
}

bk_json *bk_flow_assumptions(const bk_flow_scene *scene)
{
    bk_json *out = bk_json_array();
    char text[240];
    assume(out, bk_has(scene->aortic_mmhg) ? "mean aortic pressure as entered; venous pressure 0 to 5 mmHg"
                                           : "mean aortic pressure is not in the case: 93 to 100 mmHg taken; venous "
                                             "pressure 0 to 5 mmHg");
    assume(out, "steady flow of one viscosity in rigid tubes; pressure at the far end of each limb as given, "
                "disease further down is not in it");
    assume_flow(scene, out);
    if (scene->collaterals && !bk_has(scene->wedge_mmhg[BK_SIDE]))
        assume(out, "collaterals into the side branch of a published range, since their wedge pressure is not known");
    assume(out, "resting pressures come from beds with the resting resistance, which does not adapt");
    for (int k = 0; k < BK_LIMBS; k++) {
        if (!scene->simple[k] || scene->occluded[k])
            continue;
        bk_format(text, sizeof text, "%s: no lumen curve, a lesion of cosine shape that reaches the bifurcation%s",
                  bk_limb_names[k], scene->length_assumed[k] ? ", and 10 mm of healthy vessel" : "");
        assume(out, text);
    }
    assume_treatment(scene, out);
    return out;
}

static void note_entered(const bk_case *c, const bk_facts *facts, const bk_flow_scene *scene, bk_answer *answer)
{
    char name[NAME_TEXT];
    const struct {
        const char *name, *unit;
        bk_qty q;
    } given[] = {{"patient.aortic_mean_mmhg", "mmHg", scene->aortic_mmhg},
                 {"patient.lv_mass_g", "g", bk_has(scene->front_cm_s) ? bk_qty_absent() : scene->lv_mass_g},
                 {"anatomy.front_velocity_cm_s", "cm/s", scene->front_cm_s},
                 {"decision.main_stent_mm", "mm", c->decision.main_stent_mm},
                 {"decision.side_stent_mm", "mm", c->decision.side_stent_mm},
                 {"decision.pot_balloon_mm", "mm", c->decision.pot_balloon_mm},
                 {"decision.landing_proximal_mm", "mm", c->decision.landing_proximal_mm},
                 {"decision.landing_distal_mm", "mm", c->decision.landing_distal_mm}};
    for (size_t i = 0; i < sizeof given / sizeof given[0]; i++)
        bk_answer_input(answer, given[i].name, &(bk_fact){given[i].q, BK_FROM_ANATOMY}, given[i].unit, -1);
    for (int k = BK_DISTAL; k < BK_LIMBS; k++)
        bk_answer_input(answer, limb_path(name, k, "wedge_mmhg"), &(bk_fact){facts->limb[k].wedge_mmhg, BK_FROM_ANATOMY},
                        "mmHg", -1);
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
    bk_answer_input(answer, "anatomy.angles.proximal_distal_deg", &facts->proximal_distal_deg, "deg", facts->measurement);
}

static void note_cautions(const bk_case *c, const bk_flow_scene *scene, bk_answer *answer)
{
    bk_answer_caution(answer, "Computed from pictures, never measured: a wire value leads. As a class such indices have "
                              "sensitivity 89 and specificity 90 %%, and a randomised trial found more events than with the "
                              "wire (see sources). This program has not been compared with wires.");
    bk_answer_caution(answer, "The vessel before and beyond the three limbs is not in it: even a normal LAD loses about 13 mmHg "
                              "to its far end at hyperaemia, so a wire further down reads lower than what is shown.");
    if (scene->collaterals)
        bk_answer_caution(answer, "The side branch receives collaterals: once its limb is open they fade, and what is shown "
                                  "after treatment still has them.");
    for (int k = BK_DISTAL; k < BK_LIMBS; k++)
        if (scene->occluded[k] && !scene->collaterals && !bk_has(scene->wedge_mmhg[k]))
            bk_answer_caution(answer, "%s: occluded, and no collaterals are said to feed it: its pressure is shown as if "
                                      "there were none.", bk_limb_names[k]);
    if (c->patient.presentation == BK_NSTEMI)
        bk_answer_caution(answer, "An infarction without ST elevation: if this is its culprit, nothing of this can be said.");
    bk_answer_caution(answer, "The ostium after main stenting is read between a short ellipse and a circle: a circle from "
                              "one view over-calls jailed side branches badly.");
    bk_answer_caution(answer, "The shift of the carina is the cosine of one angle, from one group of 57 lesions: no plaque, "
                              "no calcium, a complete shift, and nothing from 90 degrees on.");
    if (c->anatomy.calcium > BK_CALCIUM_MILD || c->anatomy.plaque_side == BK_PLAQUE_SAME ||
        c->anatomy.plaque_side == BK_PLAQUE_BOTH)
        bk_answer_caution(answer, "Plaque or calcium at this carina: that model says nothing of how they move.");
    for (int k = 0; k < BK_LIMBS; k++)
        if (scene->mld_sd[k] <= 0 && !scene->occluded[k])
            bk_answer_caution(answer, "%s: the narrowest lumen has no SD, its interval is too narrow.", bk_limb_names[k]);
}

static void note_vessels(const bk_flow_scene *scene, bk_answer *answer)
{
    if (bk_has(scene->front_cm_s)) {
        bk_answer_source(answer, scene->rows.reserve->id);
        return;
    }
    for (int k = BK_DISTAL; k < BK_LIMBS; k++) {
        const bk_vessel *vessel = &scene->vessel[k];
        bk_answer_source(answer, vessel->grams->id);
        bk_answer_source(answer, vessel->per_gram->id);
        if (bk_has(scene->lv_mass_g))
            bk_answer_source(answer, vessel->share->id);
        if (scene->site != BK_LEFT_MAIN)
            bk_answer_source(answer, vessel->calibre->id);
    }
}

void bk_flow_note(const bk_case *c, const bk_facts *facts, const bk_flow_scene *scene, bk_answer *answer)
{
    bk_answer_caution(answer, "The muscle behind each vessel and its flow per gram are not verified (from memory, see sources), and every pressure here rests on them.");
    static const char *const rows[] = {BK_EVIDENCE("flow_viscosity"),      BK_EVIDENCE("flow_density"),
                                       BK_EVIDENCE("flow_aortic"),         BK_EVIDENCE("flow_venous"),
                                       BK_EVIDENCE("flow_rest_ratio"),     BK_EVIDENCE("flow_split"),
                                       BK_EVIDENCE("carina_cosine"),       BK_EVIDENCE("jailed_ellipse"),
                                       BK_EVIDENCE("stent_recoil"),        BK_EVIDENCE("residual_balloon"),
                                       BK_EVIDENCE("residual_drug_balloon"), BK_EVIDENCE("residual_jailed_balloon"),
                                       BK_EVIDENCE("jailed_kissing_ffr"),  BK_EVIDENCE("epicardial_lad"),
                                       BK_EVIDENCE("flow_class_accuracy"),
                                       BK_EVIDENCE("flow_class_trial"),    BK_EVIDENCE("flow_class_difference"),
                                       BK_EVIDENCE("visual_stenosis_sd")};
    note_inputs(facts, answer);
    if (scene->collaterals)
        bk_answer_source(answer, scene->rows.collateral->id);
    note_entered(c, facts, scene, answer);
    if (!bk_has(scene->aortic_mmhg))
        bk_answer_missing(answer, "patient.aortic_mean_mmhg", "the usual pressure is taken, which widens the intervals");
    note_cautions(c, scene, answer);
    note_vessels(scene, answer);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        bk_answer_source(answer, rows[i]);
}
