/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the numbers of a case to lumen curves, and samples over what is not known. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_SCENE_H
#define BK_CORE_FLOW_SCENE_H

#include "base/random.h"
#include "core/flow/muscle.h"
#include "core/flow/network.h"

enum { BK_FLOW_SAMPLES_ALONG = 64 };

/* What is published, looked up once. */
typedef struct bk_flow_rows {
    const bk_evidence *viscosity, *aortic, *venous, *split, *recoil, *residual, *residual_drug, *collateral, *reserve;
    double density;
} bk_flow_rows;

/* What a case gives; mm, degrees, mmHg. */
typedef struct bk_flow_scene {
    double position_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG]; /* in the direction of flow */
    double diameter_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG], healthy_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG];
    double reference_mm[BK_LIMBS], reference_sd[BK_LIMBS], mld_mm[BK_LIMBS], mld_sd[BK_LIMBS];
    bool simple[BK_LIMBS];         /* no curve: a cosine of the lesion's length at the bifurcation */
    bool length_assumed[BK_LIMBS]; /* no limb length: lesion and 10 mm */
    bool occluded[BK_LIMBS], lesion_unknown[BK_LIMBS]; /* of an occlusion without curve: no lesion length */
    double scale_sd;               /* as a fraction; 0 when unknown */
    bk_qty shift_deg[BK_LIMBS];    /* between the parent's axis and a daughter; absent: not known */
    bool two_views[BK_LIMBS];      /* that angle was measured in space */
    bk_qty stent_mm[BK_LIMBS];     /* nominal diameter meant for each limb: named in the case (entered) or sized here */
    double landing_mm[BK_LIMBS];   /* stent from the branch point; NaN: over the lesion */
    double usual_landing_mm;       /* least of it in the proximal limb when the case names none */
    bk_qty aortic_mmhg;            /* absent: the usual one is drawn */
    bk_qty wedge_mmhg[BK_LIMBS];   /* absent: none known */
    bool collaterals;              /* the side branch receives some, of unknown size */
    bk_qty front_cm_s;             /* velocity of the front at rest; absent: flow from muscle */
    bk_qty lv_mass_g;              /* absent: published grams */
    bk_vessel vessel[BK_LIMBS];    /* of the daughters */
    double calibre_mm;             /* usual one at the origin of the vessel */
    int site;                      /* enum bk_site */
    bk_flow_rows rows;
} bk_flow_scene;

/** What a limb lacks before its curve can be built: "reference_mm", "mld_mm", "lesion_length_mm"; NULL: nothing. */
const char *bk_flow_lacks(const bk_limb_facts *limb);
/** Build; no limb may lack anything and the site must have a published territory. The evidence must outlive it. */
bk_flow_scene bk_flow_scene_of(const bk_case *c, const bk_facts *facts, const bk_evidence_set *evidence);

/** The only limb with a stenosis of half its diameter or more; -1: none or several. */
int bk_flow_single_limb(const bk_flow_scene *scene);

/* One reading of everything that is not known. */
typedef struct bk_flow_draw {
    bk_blood blood;
    double aortic_pa, venous_pa;
    double flow[BK_LIMBS]; /* of the daughters, hyperaemia without any epicardial loss [m3/s] */
    double reference_mm[BK_LIMBS], mld_mm[BK_LIMBS];
    double shift_deg[BK_LIMBS], roundness[BK_LIMBS]; /* of a shifted ostium: 0 ellipse with one axis left, 1 circle */
    double recoil, residual, residual_drug;          /* as fractions */
    double wedge_pa[BK_LIMBS];                       /* NaN: no collaterals */
} bk_flow_draw;

/** How far a shifted ostium may be from an ellipse towards a circle: all the way in one view, less in two. */
double bk_roundness_limit(bool two_views);
/** Best values (random NULL), or one sample. */
bk_flow_draw bk_flow_draw_of(const bk_flow_scene *scene, bk_random *random);

#endif
