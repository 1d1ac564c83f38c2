/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From the numbers of a case to a network: lumen curves, beds from territory and flow per gram, treatment, and
   samples over what is not known. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_SCENE_H
#define BK_CORE_FLOW_SCENE_H

#include "base/evidence.h"
#include "base/random.h"
#include "core/case/facts.h"
#include "core/flow/network.h"

enum { BK_FLOW_SAMPLES_ALONG = 64 };

typedef enum bk_treatment {
    BK_UNTREATED,
    BK_MAIN_STENTED, /* main vessel open, side ostium shifted by the cosine model */
    BK_BOTH_STENTED, /* all three limbs open */
    BK_TREATMENTS
} bk_treatment;

typedef struct bk_vessel_rows { /* evidence of one vessel; both daughters of the left main have their own */
    const char *grams, *per_gram;
} bk_vessel_rows;

/* What a case gives; mm, degrees. */
typedef struct bk_flow_scene {
    double position_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG]; /* in the direction of flow */
    double diameter_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG], healthy_mm[BK_LIMBS][BK_FLOW_SAMPLES_ALONG];
    double reference_mm[BK_LIMBS], reference_sd[BK_LIMBS], mld_mm[BK_LIMBS], mld_sd[BK_LIMBS];
    bool simple[BK_LIMBS];         /* no curve: a cosine of the lesion's length at the bifurcation */
    bool length_assumed[BK_LIMBS]; /* no limb length: lesion and 10 mm */
    bool occluded[BK_LIMBS];
    double scale_sd;     /* as a fraction; 0 when unknown */
    double shift_deg;    /* between parent axis and side branch; NaN: not known */
    double shift_sd_deg; /* 0 when unknown */
    bool two_views;      /* that angle was measured in space */
    int site;            /* enum bk_site */
} bk_flow_scene;

/** What a limb lacks before its curve can be built: "reference_mm", "mld_mm", "lesion_length_mm"; NULL: nothing. */
const char *bk_flow_lacks(const bk_limb_facts *limb);
/** Build; no limb may lack anything. visual_sd_pct: spread of a stenosis by eye, in points. */
bk_flow_scene bk_flow_scene_of(const bk_facts *facts, int site, double visual_sd_pct);

/** Evidence rows of the vessel a daughter belongs to; NULL entries for a site without published territory. */
bk_vessel_rows bk_vessel_of(int site, int limb);

/* One reading of everything that is not known. */
typedef struct bk_flow_draw {
    bk_blood blood;
    double aortic_pa, venous_pa, split;
    double grams[2], per_gram[2]; /* of the vessels of the distal main and of the side */
    double reference_mm[BK_LIMBS], mld_mm[BK_LIMBS];
    double shift_deg, roundness; /* 0: the shifted ostium is an ellipse with one axis left; 1: a circle */
} bk_flow_draw;

/** Best values (random NULL), or one sample. */
bk_flow_draw bk_flow_draw_of(const bk_flow_scene *scene, const bk_evidence_set *evidence, bk_random *random);

/** The network of one draw after a treatment. Pure. */
bk_network bk_flow_network_of(const bk_flow_scene *scene, const bk_flow_draw *draw, bk_treatment treatment,
                              double recoil_pct);

/** Loss from the start of an untreated, open limb to each of its places; network: of this draw, untreated. */
void bk_flow_pull_back(const bk_flow_scene *scene, const bk_flow_draw *draw, const bk_network *network, int limb,
                       double flow, double drop_pa[BK_FLOW_SAMPLES_ALONG]);

/** Ostial stenosis [%] by the cosine model; angle between parent axis and side branch, 90 degrees and more: 0. */
double bk_carina_stenosis_pct(double shift_deg);
/** Diameter of the circle of the same area as the shifted ostium of a side branch; roundness 0..1 as above. */
double bk_shifted_ostium_mm(double side_mm, double stenosis_pct, double roundness);

#endif
