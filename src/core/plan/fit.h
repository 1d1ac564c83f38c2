/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What goes through a guide together. docs/methods/fit.md */
#ifndef BK_CORE_PLAN_FIT_H
#define BK_CORE_PLAN_FIT_H

#include <stdbool.h>

#include "base/evidence.h"

typedef enum bk_kind {
    BK_KIND_WIRE,          /* a wire of its own, without a catheter over it */
    BK_KIND_BALLOON,       /* rapid exchange, with its wire */
    BK_KIND_STENT,         /* rapid exchange, with its wire */
    BK_KIND_MICROCATHETER, /* over the wire, with its wire */
    BK_KIND_DUAL_LUMEN,    /* microcatheter with two lumina and two wires */
    BK_KINDS
} bk_kind;
/** "wire", "balloon", ... */
extern const char *const bk_kind_names[BK_KINDS];

typedef enum bk_fit_verdict { BK_FITS, BK_TIGHT, BK_FITS_NOT, BK_FIT_CANNOT_SAY } bk_fit_verdict;
/** "fits", "tight", "no"; cannot say: NULL (null in an answer). */
const char *bk_fit_name(bk_fit_verdict verdict);

/* Places along a catheter that a section through the guide can meet. */
typedef enum bk_level { BK_FRONT, BK_DISTAL_SHAFT, BK_PROXIMAL_SHAFT, BK_LEVELS } bk_level;

/* A device as the guide sees it. */
typedef struct bk_profile {
    bk_kind kind;
    double mm[BK_LEVELS]; /* diameters; a wire has the same everywhere */
    bool wire_beside;     /* rapid exchange: beside the proximal shaft runs its wire */
} bk_profile;

#define BK_FIT_DEVICES 6 /* of them at most 3 that are no wires */

#define BK_SECTION_CIRCLES 9

/* Circles in a guide just wide enough for them, from its middle. */
typedef struct bk_section {
    size_t n;
    size_t device[BK_SECTION_CIRCLES]; /* whose it is; a rapid-exchange device may have two: its shaft, then
                                          its wire */
    double mm[BK_SECTION_CIRCLES], place_mm[BK_SECTION_CIRCLES][2];
} bk_section;

typedef struct bk_fit {
    double needed_mm; /* by packing; NaN when it cannot be said */
    double inner_mm;  /* of the guide */
    bk_fit_verdict by_packing, verdict;
    bool by_rule;         /* a published rule overrules packing */
    int rule_french;      /* guide that a published rule asks for with these devices; 0: none was read */
    const char *rule_row; /* its evidence row; NULL: none */
    bk_level level[BK_FIT_DEVICES]; /* the section that decides, device by device */
    bk_section section;             /* and what it looks like */
} bk_fit;

/** Generic profile of a kind. Source: evidence rows profile_*, wire_diameter. */
bk_profile bk_fit_profile(const bk_evidence_set *evidence, bk_kind kind);

/** Inner diameter of a guide of 5 to 8 F [mm], NaN for others. Source: evidence rows guide_inner_*. */
double bk_fit_guide_inner(const bk_evidence_set *evidence, int french);

/**
 * Can these devices lie in one guide?
 *
 * They are staggered: of two catheters one front at most is at any place, beside it the other's distal or
 * proximal shaft, and beside a rapid-exchange proximal shaft its wire. The section that needs most decides.
 * Fits: at least fit_margin is left; tight: less; no: none. Two rapid-exchange balloons, or a stent and a
 * balloon, with up to two more wires, in 6 F and more are never "no": there published practice overrules
 * rigid circles, and the verdict is tight. french  of the guide, for the published rules; 0: no rule (an
 * extension) n       0..BK_FIT_DEVICES, at most 3 that are no wires: else, or when a diameter is NaN, cannot
 * say
 */
bk_fit bk_fit_profiles(const bk_evidence_set *evidence, const bk_profile *profiles, size_t n, double inner_mm,
                       int french);

/** The same for generic devices in a guide of this size (5 to 8 F; others: cannot say). */
bk_fit bk_fit_kinds(const bk_evidence_set *evidence, const bk_kind *kinds, size_t n, int french);

#endif
