/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/limb.h"

const char *const bk_limb_names[BK_LIMBS] = {"proximal", "distal", "side"};
