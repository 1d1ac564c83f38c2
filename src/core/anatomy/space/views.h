/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where to stand with the C-arm: every reachable position judged for what it is wanted for. Method, definitions and
   what was measured: docs/methods/views.md. */
#ifndef BK_CORE_ANATOMY_SPACE_VIEWS_H
#define BK_CORE_ANATOMY_SPACE_VIEWS_H

#include <stdbool.h>

#include "base/arena.h"
#include "core/anatomy/space/curve3.h"
#include "core/limb.h"

enum bk_purpose { BK_VIEW_MAIN, BK_VIEW_OSTIUM, BK_VIEW_CARINA, BK_VIEW_RECROSS, BK_PURPOSES };
/** "main_vessel", "side_ostium", "carina", "recross". */
extern const char *const bk_purpose_names[BK_PURPOSES];

/* How the mouth of the side branch is seen: its axes are the main vessel, the normal of the mouth, and the normal of the
   plane that main vessel and side branch lie in. Within 30 degrees of one of them it is named after it. */
enum bk_sight { BK_SIGHT_OBLIQUE, BK_SIGHT_EN_FACE, BK_SIGHT_PROFILE, BK_SIGHT_END_ON };
/** "oblique", "en_face", "profile", "end_on". */
extern const char *const bk_sight_names[4];

#define BK_VIEWS_TOP_MAX 8
#define BK_VIEWS_STEP_DEG 1.0     /* of the search */
#define BK_VIEWS_MAP_STEP_DEG 5.0 /* of the map */

typedef struct bk_views_input {
    const bk_curve3 *limb;                     /* BK_LIMBS of them */
    double sod_mm;                             /* source to isocentre */
    double primary_deg[2], secondary_deg[2];   /* reach: lowest and highest; within -180..180 and -90..90 */
    double overlap_weight;                     /* loss of a fully covered stretch against one seen end-on */
    double overlap_tolerated;                  /* share of a stretch that may be covered */
    double apart_deg;                          /* next-best views lie at least so far from better ones */
    int top;                                   /* best views wanted for each purpose, 1..BK_VIEWS_TOP_MAX */
} bk_views_input;

typedef struct bk_view {
    double primary_deg, secondary_deg;
    bool reachable;
    bool another_valley; /* a ridge of loss parts it from better ones; else it is merely far enough from them */
    double loss;                                                              /* what was made small; 0: nothing is lost */
    double foreshortening_pct[BK_LIMBS], foreshortening_sd_pct[BK_LIMBS];     /* whole limbs */
    double near_foreshortening_pct[BK_LIMBS];                                 /* their first 8 mm */
    double overlap_pct, overlap_low_pct, overlap_high_pct;                    /* of the purpose's stretch; 90 % interval */
    double clear_certainty_pct;                                               /* that no more than tolerated is covered */
    double limb_overlap_pct[BK_LIMBS];
    int sight;                                                                /* enum bk_sight */
    double ostium_deg, ostium_sd_deg;                                         /* ray to the normal of the mouth: 0 en face, 90 edge-on */
    double distal_side_deg, distal_side_sd_deg;                               /* the angle as it is seen */
} bk_view;

typedef struct bk_views_purpose {
    bk_view best[BK_VIEWS_TOP_MAX]; /* reachable ones, best first, each apart_deg or more from those before. The next
                                       ones are bottoms of other valleys that cost at most 0.1 more than
                                       the flank; where there is none, the second is the flank itself */
    int n;
    bool optimum_in_reach;          /* nothing out of reach is better by a point of loss or more */
    bk_view optimum;                /* the best there is anywhere around the patient */
} bk_views_purpose;

/* Cells at map steps over the reach and a margin around it; row-major, rows by secondary angle from low to high. In percent. */
typedef struct bk_views_map {
    int rows, cols;
    double primary_from_deg, secondary_from_deg, step_deg;
    float *foreshortening[BK_LIMBS];
    float *overlap[BK_PURPOSES], *loss[BK_PURPOSES];
} bk_views_map;

typedef struct bk_views {
    bk_views_purpose purpose[BK_PURPOSES];
    bk_views_map map;
    double distal_side_deg; /* in space, between the chords to 8 mm */
    double joined_mm[BK_LIMBS];
} bk_views;

/**
 * Judge every position of the reach in steps of 1 degree.
 *
 * Loss by purpose, 0..1 and the overlap: main_vessel the larger foreshortening of proximal and distal limb; side_ostium the
 * largest of the first 8 mm of the three limbs; carina the opening lost, 1 - |n.r| with n the normal of the daughters'
 * plane; recross the larger of 1 - |m.r|, m the normal of the mouth, and the foreshortening of the main vessel's first
 * 8 mm. To it comes overlap_weight times the expected share of the purpose's stretch that is covered (recross: nothing, since
 * a mouth seen en face always lies on its branch). Source of foreshortening and of the daughters' normal: Tu et al. 2012,
 * doi 10.1007/s10554-011-9996-x, and geometry; the weighing is ours.
 *
 * Errors: as bk_look_prepare; BK_E_USAGE limits that leave nothing or lie outside the circle; BK_E_LIMIT the arena's cap.
 * Threads: pure.
 */
bk_status bk_views_search(const bk_views_input *input, bk_arena *arena, bk_views *out, bk_err *err) BK_MUST_CHECK;

/** Lower limits first, within -180..180 and -90..90. Errors: BK_E_USAGE otherwise. */
bk_status bk_views_check_reach(const double primary_deg[2], const double secondary_deg[2], bk_err *err) BK_MUST_CHECK;

/** What one position shows, judged for one purpose. Errors: as bk_views_search. */
bk_status bk_views_judge(const bk_views_input *input, int purpose, double primary_deg, double secondary_deg, bk_arena *arena,
                         bk_view *out, bk_err *err) BK_MUST_CHECK;

#endif
