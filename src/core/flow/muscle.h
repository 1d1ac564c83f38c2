/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is published of the vessel a bifurcation lies on: its muscle, its flow per gram, its usual calibre, and how much
   of it lies behind the bifurcation. docs/methods/flow.md */
#ifndef BK_CORE_FLOW_MUSCLE_H
#define BK_CORE_FLOW_MUSCLE_H

#include "base/evidence.h"
#include "core/case/facts.h"

typedef struct bk_vessel { /* rows; NULL: nothing published for the site */
    const bk_evidence *grams;    /* muscle behind the vessel */
    const bk_evidence *share;    /* of the left ventricle [%] */
    const bk_evidence *per_gram; /* hyperaemic flow */
    const bk_evidence *calibre;  /* at its origin [mm] */
} bk_vessel;

/** The vessel a daughter belongs to: both daughters of the left main have their own. dominance as in the case. */
bk_vessel bk_vessel_of(int site, int limb, int dominance, const bk_evidence_set *evidence);

/** Usual calibre at the origin [mm]: of men as published, of women less by the published share. */
double bk_calibre_mm(const bk_vessel *vessel, int sex, const bk_evidence_set *evidence);

/** Muscle of the vessel [g]: the share of an LV mass that was entered, else the published grams (lv_mass_g absent). */
double bk_vessel_grams(const bk_vessel *vessel, bk_qty lv_mass_g);

/**
 * Share of the vessel's muscle that lies behind a bifurcation, 0..1: (proximal reference / usual calibre)^exponent,
 * all of it when the vessel is not narrower there. Source: flow follows diameter (evidence row flow_split).
 */
double bk_behind_share(double proximal_mm, double calibre_mm, double exponent);

#endif
