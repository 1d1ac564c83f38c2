/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three references held against a branching law. */
#ifndef BK_CORE_ANATOMY_LAW_CHECK_H
#define BK_CORE_ANATOMY_LAW_CHECK_H

#include "core/anatomy/bifurcation.h"

/**
 * Fill reference_by_law_mm of each limb from the other two, and warn.
 *
 * A limb whose reference rests on less than 1.5 mm of healthy vessel takes the law's reference instead (origin
 * derived; stenosis recomputed); one that lies well under what the law expects is flagged as perhaps diffusely
 * diseased, one well over it as ectatic or as two vessels over one another. The references are compared at the ostia.
 * Source: docs/methods/branching.md. No law can see a wrong scale: all are scale-free.
 */
void bk_law_check(bk_bifurcation *b, bk_branching_law law);

#endif
