/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The result of the procedure: what was reached against published lines, and procedural success by each named
   definition. What is missing is never a "no". docs/methods/result.md */
#ifndef BK_CORE_OUTCOME_RESULT_H
#define BK_CORE_OUTCOME_RESULT_H

#include "base/evidence.h"
#include "core/case/measured.h"

/* ---- the pair of measurements ---- */

typedef struct bk_result_pair {
    ptrdiff_t baseline, final; /* indices, -1: none */
    double apart_deg;          /* between their lines of sight, 0..90; NaN: an angle is missing */
    bk_tri same_view;          /* apart_deg against row result_same_view; unknown without angles */
} bk_result_pair;

/**
 * The final measurement and the baseline it is held against: the newest final that has a baseline in the same
 * view, with the newest such baseline; where no pair is in the same view, the newest of both.
 */
bk_result_pair bk_result_pair_of(const bk_measured *measured, size_t n, const bk_evidence_set *evidence);

/* ---- facts ---- */

/* Where a residual stenosis comes from. */
typedef enum bk_residual_from {
    BK_RESIDUAL_NONE,
    BK_RESIDUAL_ENTERED,
    BK_RESIDUAL_SAME_VIEW,
    BK_RESIDUAL_OTHER_VIEW, /* measured, but not in the view of the baseline: shown, not judged */
    BK_RESIDUAL_NO_BASELINE /* measured, with no baseline or no angles to compare with: shown, not judged */
} bk_residual_from;

typedef struct bk_limb_outcome {
    int timi, treatment;             /* BK_INTEGER_ABSENT; enum bk_limb_treatment */
    bk_qty stenosis_pct, ostium_pct; /* ostium: side branch only */
    bk_residual_from from, ostium_from;
    bk_qty baseline_pct;           /* of the baseline in the pair */
    bk_qty gain_mm;                /* MLD final - MLD baseline, same view only; SD with both scales in it */
    bk_qty msa_mm2, reference_mm2; /* of the same limb by the same mode */
    int mode;                      /* 1 OCT, 2 IVUS, as in bk_imaging; 0: none */
    bk_qty edge_dissection_deg, edge_plaque_pct;
} bk_limb_outcome;

typedef struct bk_result_facts {
    bk_limb_outcome limb[BK_LIMBS];
    int site;       /* enum bk_site */
    int dissection; /* enum bk_dissection */
    bk_tri wires_out;
    bk_tri death, revascularisation, stroke, bypass_surgery;
    bk_tri infarction_arc, infarction_universal; /* by that definition, or as entered */
    bk_tri bleeding_3_or_5;
} bk_result_facts;

/**
 * Limbs from what was entered, the pair and imaging. Entered goes before measured. Bare residuals are by eye
 * and carry the SD of row visual_stenosis_sd. Imaging: newest entry (last in the list) of the limb with a
 * stent area, at stage stented or final; its reference from the same entry, else from the last one of the
 * same limb and mode. measured may be NULL when pair.final is -1.
 */
void bk_result_limbs(const bk_case *c, const bk_measured *measured, const bk_result_pair *pair,
                     const bk_evidence_set *evidence, bk_limb_outcome out[BK_LIMBS]);

/* ---- checks ---- */

typedef struct bk_check {
    char id[32], text[96];
    bk_tri met;
    double value, threshold; /* NaN: not known, or in words */
    const char *value_word, *threshold_word, *unit;
    double certainty_pct; /* that it really is on the wanted side of the line; NaN without an SD or a value */
    const char *row;      /* evidence row of the line */
    char why[200];        /* "" when met says all */
    char needs[64];       /* input that would settle it; "" none */
} bk_check;

#define BK_CHECKS_MAX 32

/** All checks in a fixed order; returns how many. Ids: docs/methods/result.md. */
size_t bk_result_checks(const bk_result_facts *facts, const bk_evidence_set *evidence,
                        bk_check out[BK_CHECKS_MAX]);

/* ---- procedural success ---- */

typedef enum bk_success_definition {
    BK_SUCCESS_BIF_ARC,
    BK_SUCCESS_ACC_2011,
    BK_SUCCESS_ACC_2005,
    BK_SUCCESSES
} bk_success_definition;
extern const char *const bk_success_ids[BK_SUCCESSES];
extern const char *const bk_success_names[BK_SUCCESSES];

#define BK_SUCCESS_NEEDS_MAX 16

typedef struct bk_success {
    bk_tri met;      /* unknown: cannot say */
    char why[400];   /* what failed; or what is not known; or that every part is met */
    const char *row; /* the definition */
    const char *needs[BK_SUCCESS_NEEDS_MAX]; /* ends with NULL */
} bk_success;

/** A part that is known to fail decides; otherwise all must be known. Rows result_bif_arc, result_acc_*. */
void bk_result_success(const bk_result_facts *facts, const bk_evidence_set *evidence,
                       bk_success out[BK_SUCCESSES]);

/** Below a line for a stent, below another for balloons, by what was done; a limb not treated is not asked
 * (yes). */
bk_tri bk_residual_below(const bk_limb_outcome *limb, double stent_pct, double balloon_pct);

#endif
