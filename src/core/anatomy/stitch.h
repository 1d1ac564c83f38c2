/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One limb out of two fitted pieces. */
#ifndef BK_CORE_ANATOMY_STITCH_H
#define BK_CORE_ANATOMY_STITCH_H

#include "core/image/lumen.h"

/** `outer` continues `inner`; the pieces share no coefficient, so their covariances stand side by side. Errors: BK_E_LIMIT. */
bk_status bk_lumen_stitch(const bk_lumen_limb *inner, const bk_lumen_limb *outer, bk_arena *arena, bk_lumen_limb *out,
                          bk_err *err) BK_MUST_CHECK;

#endif
