/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From sizes to what is on the shelf: which design and length, at which pressure, and where a round balloon
   goes beyond the platform of the stent it dilates. docs/methods/shelf.md */
#ifndef BK_CORE_PLAN_CHOOSE_H
#define BK_CORE_PLAN_CHOOSE_H

#include "core/plan/devices.h"
#include "core/plan/shelf.h"

typedef struct bk_choice {
    bool asked; /* the use is sized in this plan */
    bk_stock_wish wish;
    bk_stock_match match[BK_STOCK_MATCHES];
    size_t n;
    bk_pressure pressure; /* of the first match, for the target diameter */
} bk_choice;

typedef struct bk_chosen {
    bk_choice of[BK_USES];
    double pot_room_mm;    /* from the branch point to the proximal end of the stent: the POT balloon is not
                              longer */
    bool pot_room_known;   /* false: the stent length is not known, the room is the least landing */
    double side_length_mm; /* wanted of the side stent; NaN: cannot say */
    double round_mm; /* largest round balloon in the main stent: POT target or nominal; NaN: not known */
    double lengthening_mm; /* of a left main stent by POT beyond its nominal size; NaN: does not apply or not
                              known */
} bk_chosen;

/**
 * Choose from a stock list for every sized use.
 *
 * Stents: nominal size, at least the length wanted, and reach: the main stent bears the POT balloon, and in
 * culotte the side stent too, since it comes to lie in the proximal main vessel. POT, kissing and calcium:
 * non-compliant balloons. The POT balloon is at most as long as the stent reaches back from the branch point.
 * Side stent: the side lesion, with the protrusion of TAP and crush; in culotte cannot say. Source  evidence
 * rows left_main_lengthening, side_protrusion
 */
bk_chosen bk_choose(const bk_devices *devices, const bk_facts *facts, int site, const bk_stock *stock,
                    const bk_evidence_set *evidence);

#endif
