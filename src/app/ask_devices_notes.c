/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What stands around the sizes of `ask devices`: inputs used, what is missing, cautions, sources. */
#include <math.h>

#include "app/ask_devices.h"
#include "base/format.h"

#define NAME_TEXT 80

static const char *limb_path(char out[NAME_TEXT], int limb, const char *key)
{
    bk_format(out, NAME_TEXT, "anatomy.segments.%s.%s", bk_limb_names[limb], key);
    return out;
}

void bk_devices_note_inputs(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                            bk_answer *answer)
{
    char name[NAME_TEXT];
    (void)devices;
    for (int limb = 0; limb < BK_LIMBS; limb++)
        bk_answer_input(answer, limb_path(name, limb, "reference_mm"), &facts->limb[limb].reference_mm, "mm",
                        facts->measurement);
    const int lesions[] = {BK_PROXIMAL, (int)devices->strategy.axis};
    for (int i = 0; i < 2; i++)
        bk_answer_input(answer, limb_path(name, lesions[i], "lesion_length_mm"),
                        &facts->limb[lesions[i]].lesion_length_mm, "mm", facts->measurement);
    bk_answer_input(answer, "anatomy.angles.distal_side_deg", &facts->distal_side_deg, "deg",
                    facts->measurement);
    const bk_fact scale = {bk_qty_of(facts->scale_sd_pct, (double)NAN, BK_ENTERED), BK_FROM_ANATOMY};
    const bool scale_entered = !isnan(c->anatomy.calibration_sd_pct);
    if (!isnan(facts->scale_sd_pct))
        bk_answer_input(answer, "calibration_sd_pct",
                        scale_entered ? &scale
                                      : &(bk_fact){bk_qty_of(facts->scale_sd_pct, (double)NAN, BK_MEASURED),
                                                   BK_FROM_MEASUREMENT},
                        "%", facts->measurement);
    if (devices->calcium)
        bk_answer_input_text(answer, "anatomy.calcium", "moderate or worse", "entered");
}

static void miss_references(const bk_facts *facts, const bk_devices *devices, bk_answer *answer)
{
    char name[NAME_TEXT], why[200];
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        if (bk_has(facts->limb[limb].reference_mm.q))
            continue;
        const char *sizes =
            limb == BK_PROXIMAL ? "the POT balloon and decides which stent platform reaches far enough"
            : limb == (int)devices->strategy.axis
                ? "predilatation, the main stent and the main kissing balloon"
                : "the side balloon, the second kissing balloon and the stent length across the ostium";
        if (limb == BK_PROXIMAL && devices->laws_known)
            bk_format(why, sizeof why, "sizes %s; the fractal ratio would give %.2f mm, the HK law %.2f mm",
                      sizes, devices->laws[0].mother_mm, devices->laws[1].mother_mm);
        else
            bk_format(why, sizeof why, "sizes %s", sizes);
        bk_answer_missing(answer, limb_path(name, limb, "reference_mm"), why);
    }
}

static void miss_lengths(const bk_facts *facts, const bk_devices *devices, bk_answer *answer)
{
    char name[NAME_TEXT];
    const int lesions[] = {BK_PROXIMAL, (int)devices->strategy.axis};
    for (int i = 0; i < 2; i++) {
        const bk_limb_facts *limb = &facts->limb[lesions[i]];
        if (!bk_has(limb->lesion_length_mm.q) && !limb->no_lesion)
            bk_answer_missing(answer, limb_path(name, lesions[i], "lesion_length_mm"),
                              "decides the length of the main stent; 0 says that this limb has no lesion");
    }
    if (!devices->main_length.angle_known)
        bk_answer_missing(
            answer, "anatomy.angles.distal_side_deg",
            bk_has(facts->distal_side_deg.q)
                ? "seen in one view only; in space it would narrow the stretch across the side ostium"
                : "narrows the stretch of stent across the side ostium");
}

void bk_devices_note_missing(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                             bk_answer *answer)
{
    if (c->decision.strategy == BK_STRATEGY_NOT_SAID)
        bk_answer_missing(
            answer, "decision.strategy",
            "not decided: sizes are for the first option in the answer on strategies");
    if (!devices->strategy.sized)
        bk_answer_missing(answer, "items",
                          "which limb a single-limb strategy treats is not worked out in this version");
    miss_references(facts, devices, answer);
    miss_lengths(facts, devices, answer);
    bk_answer_missing(answer, "items[].length_mm of kissing and predilatation balloons",
                      "no rule was read; no longer than what they dilate");
}

static void caution_platforms(const bk_devices *devices, bk_answer *answer)
{
    for (size_t i = 0; i < devices->platforms_n; i++) {
        const bk_platform *p = &devices->platforms[i];
        if (p->verdict != BK_PLATFORM_WITHIN)
            bk_answer_caution(
                answer,
                "Check the label: the proximal reference is %s the typical maximum of %.2f to %.2f mm "
                "of the %s class, in which this stent may be made (typical values, from memory).",
                p->verdict == BK_PLATFORM_ABOVE ? "above" : "inside", p->maximum->low, p->maximum->high,
                p->name);
    }
}

static void caution_lengths(const bk_facts *facts, const bk_devices *devices, bk_answer *answer)
{
    const int lesions[] = {BK_PROXIMAL, (int)devices->strategy.axis};
    if (devices->main_length.verdict != BK_LENGTH_GIVEN)
        return;
    bk_answer_caution(
        answer,
        "The stent length covers lesion and landing; healthy margin beyond is for the operator to add.");
    if (!devices->main_length.ends_known)
        bk_answer_caution(answer,
                          "A lesion of which only the length is known is taken to begin at the ostium.");
    if (!devices->main_length.spread_known)
        bk_answer_caution(answer, "A lesion length without SD gives no range of stent lengths.");
    for (int i = 0; i < 2; i++)
        if (facts->limb[lesions[i]].lesion_length_mm.q.origin == BK_VISUAL) {
            bk_answer_caution(
                answer, "Lesion length by eye: stents chosen by eye are often too short (see sources).");
            bk_answer_source(answer, BK_EVIDENCE("visual_length_short"));
        }
}

static void caution_references(const bk_facts *facts, const bk_devices *devices, bk_answer *answer)
{
    if (devices->mother_doubt == BK_MOTHER_SMALL)
        bk_answer_caution(
            answer, "The proximal reference is well below what the daughters ask for: diffuse disease in "
                    "the proximal main vessel, or a reference taken too near the lesion?");
    if (devices->mother_doubt == BK_MOTHER_LARGE)
        bk_answer_caution(answer,
                          "The proximal reference is well above what the daughters ask for: a third branch, "
                          "ectasia, or disease in a daughter?");
    if (devices->distal_larger)
        bk_answer_caution(
            answer, "The distal main reference is larger than the proximal one: are the limbs exchanged?");
    if (devices->laws_known)
        bk_answer_caution(answer, "Branching laws cannot see a wrong scale.");
    if (devices->spread_unknown)
        bk_answer_caution(answer,
                          "A diameter without SD gives no interval: how stable its size is cannot be said.");
    for (int limb = 0; limb < BK_LIMBS; limb++)
        if (facts->limb[limb].reference_mm.from == BK_FROM_MEASUREMENT ||
            facts->limb[limb].reference_mm.from == BK_FROM_SOLID) {
            bk_answer_caution(
                answer,
                "Angiographic diameters read below intravascular ultrasound (see sources); not corrected.");
            bk_answer_source(answer, BK_EVIDENCE("angiography_under_ivus_short"));
            bk_answer_source(answer, BK_EVIDENCE("angiography_under_ivus_long"));
        }
}

void bk_devices_note_cautions(const bk_case *c, const bk_facts *facts, const bk_devices *devices,
                              bk_answer *answer)
{
    if (devices->withdrawn)
        bk_answer_caution(answer, "The ways to the scale disagree: sizes taken from the picture are held "
                                  "back until that is settled, or "
                                  "the references are entered; percent stenosis stays.");
    if (c->anatomy.extra_limb)
        bk_answer_caution(answer, "A fourth limb is entered; this version sizes three.");
    for (size_t i = 0; i < devices->n; i++)
        if (devices->items[i].size.spread_known && !devices->items[i].size.stable)
            bk_answer_caution(answer, "%s: %.2f mm would be chosen again in only %.0f of 100 measurements.",
                              bk_use_words[devices->items[i].use], devices->items[i].size.nominal_mm,
                              devices->items[i].size.same_size_pct);
    caution_references(facts, devices, answer);
    caution_platforms(devices, answer);
    caution_lengths(facts, devices, answer);
}

void bk_devices_note_sources(const bk_facts *facts, const bk_devices *devices, bk_answer *answer)
{
    static const char *const sizes[] = {
        BK_EVIDENCE("stent_by_distal"),         BK_EVIDENCE("pot_by_proximal"),
        BK_EVIDENCE("pot_position_at"),         BK_EVIDENCE("kissing_by_daughters"),
        BK_EVIDENCE("kissing_minimal_overlap"), BK_EVIDENCE("kissing_geometry"),
        BK_EVIDENCE("kissing_over_fractal"),    BK_EVIDENCE("size_step"),
        BK_EVIDENCE("bailout_stenosis")};
    for (size_t i = 0; devices->n > 0 && i < sizeof sizes / sizeof sizes[0]; i++)
        bk_answer_source(answer, sizes[i]);
    bk_answer_source(answer, devices->calcium ? BK_EVIDENCE("predilatation_calcium")
                                              : BK_EVIDENCE("predilatation_below"));
    bk_answer_source(answer, BK_EVIDENCE("predilatation_ratio"));
    if (devices->main_length.verdict != BK_LENGTH_MISSING) {
        bk_answer_source(answer, BK_EVIDENCE("landing_proximal"));
        bk_answer_source(answer, BK_EVIDENCE("pot_shortest_balloon"));
        bk_answer_source(answer, BK_EVIDENCE("landing_over_pot"));
        bk_answer_source(answer, BK_EVIDENCE("ostium_chord"));
        if (!devices->main_length.angle_known)
            bk_answer_source(answer, BK_EVIDENCE("ostium_angle_low"));
    }
    if (devices->main_length.verdict == BK_LENGTH_HELD) {
        bk_answer_source(answer, BK_EVIDENCE("view_separation"));
        bk_answer_source(answer, BK_EVIDENCE("foreshortening_used"));
    }
    for (size_t i = 0; i < devices->platforms_n; i++) {
        bk_answer_source(answer, devices->platforms[i].nominal->id);
        bk_answer_source(answer, devices->platforms[i].maximum->id);
    }
    for (size_t i = 0; devices->laws_known && i < BK_MOTHER_LAWS; i++)
        bk_answer_source(answer, devices->laws[i].law_id);
    if (devices->laws_known)
        bk_answer_source(answer, BK_EVIDENCE("law_scale_blind"));
    if (devices->mother_doubt != BK_MOTHER_NO_DOUBT)
        bk_answer_source(answer, BK_EVIDENCE("mother_tolerance"));
    if (devices->mother_doubt == BK_MOTHER_SMALL)
        bk_answer_source(answer, BK_EVIDENCE("left_main_underread"));
    if (isnan(facts->scale_sd_pct) && devices->spread_unknown)
        bk_answer_source(answer, BK_EVIDENCE("visual_diameter_no_sd"));
}
