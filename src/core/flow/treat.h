/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a strategy leaves behind in the three limbs, as a network. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_TREAT_H
#define BK_CORE_FLOW_TREAT_H

#include "core/flow/scene.h"

/* Ends, not ways: strategies that leave the same lumens behind share one. */
typedef enum bk_end {
    BK_END_UNTREATED,
    BK_END_JAILED,         /* main vessel stented, the side ostium narrowed by the carina */
    BK_END_JAILED_OPENED,  /* the same after the side lesion was dilated */
    BK_END_DILATED,        /* main vessel stented, side lesion and ostium dilated through its struts (kissing) */
    BK_END_DRUG_COATED,    /* the same with a drug-coated balloon, put in only after a good first result */
    BK_END_INVERTED,       /* stented from the proximal main vessel into the side branch, distal ostium narrowed */
    BK_END_SINGLE,         /* the one limb that has a lesion stented up to the branch point */
    BK_END_BOTH,           /* all three limbs stented */
    BK_END_BALLOONS,       /* no stent, all three limbs dilated */
    BK_ENDS
} bk_end;
/** "untreated", "jailed", "jailed_opened", ... */
extern const char *const bk_end_names[BK_ENDS];

/** Where a strategy ends; one not said: BK_END_UNTREATED. */
bk_end bk_end_of(enum bk_strategy strategy);

/** The daughter whose ostium the main stent narrows; BK_LIMBS: none. */
int bk_end_narrows(bk_end end);

/** Why an end cannot be worked out for this scene: a path of the case that is missing; NULL: it can. */
const char *bk_end_lacks(const bk_flow_scene *scene, bk_end end);

/**
 * Can this limb be said at an end that lacks nothing? Not the distal main vessel after inverted stenting when it goes on
 * nearly straight: the carina model was made for side branches and would close it. It is left open then.
 */
bool bk_end_says(const bk_flow_scene *scene, bk_end end, int limb);

/**
 * The network of one draw at an end that lacks nothing. Pure.
 *
 * Stented    as wide as the nominal diameter less recoil, never narrower than before; over the lesion, at least the
 *            usual landing in the proximal limb, or as far as the case says
 * Narrowed   the first millimetre of the daughter that the main stent passes: bk_shifted_ostium_mm
 * Dilated    as wide as the residual stenosis of the draw leaves it, ostium included
 * Struts     lose nothing.
 */
bk_network bk_flow_network_of(const bk_flow_scene *scene, const bk_flow_draw *draw, bk_end end);

/** Loss from the start of an untreated, open limb to each of its places; network: of this draw, untreated. */
void bk_flow_pull_back(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network, int limb,
                       double flow, double drop_pa[BK_FLOW_SAMPLES_ALONG]);

/** Ostial stenosis [%] by the cosine model; angle between the parent's axis and the daughter, from 90 degrees: 0. */
double bk_carina_stenosis_pct(double shift_deg);
/** Diameter of the circle of the same area as the shifted ostium; roundness 0: one axis is left whole, 1: a circle. */
double bk_shifted_ostium_mm(double daughter_mm, double stenosis_pct, double roundness);

#endif
