/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of looks share. */
#ifndef BK_CORE_ANATOMY_LOOKS_INSIDE_H
#define BK_CORE_ANATOMY_LOOKS_INSIDE_H

#include "core/anatomy/looks.h"
#include "core/anatomy/trace.h"

/** Wires that lie in a limb. Those in the daughters come through the proximal limb, whether that was said or not. */
int bk_looks_wires_in(const bk_looks *w, int limb);

/** Take the wires out of w->log_image. */
bk_status bk_looks_remove_wires(bk_looks *w, bk_err *err) BK_MUST_CHECK;

/** The ways to the clicks, and in w->patency which limbs contrast fills. lead: see bk_router. */
bk_status bk_looks_trace(bk_looks *w, bool lead, bk_trace *trace, bk_err *err) BK_MUST_CHECK;

/** Which occluded limbs end so near the core that nothing of them can be measured: w->flush. */
void bk_looks_find_stumps(bk_looks *w, const bk_trace *trace);

/** Say what the ways left in doubt. */
void bk_looks_warn(const bk_looks *w, const bk_trace *trace, bk_bifurcation *out);

/** The model fit on the original pixels, started from the edges. Where densities cannot be used, out->by_density stays false. */
bk_status bk_looks_fit_density(bk_looks *w, bk_bifurcation *out, bk_err *err) BK_MUST_CHECK;

#endif
