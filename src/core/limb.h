/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The three limbs of a bifurcation, in the order of every array of limbs. */
#ifndef BK_CORE_LIMB_H
#define BK_CORE_LIMB_H

enum bk_limb { BK_PROXIMAL, BK_DISTAL, BK_SIDE, BK_LIMBS };

/** "proximal", "distal", "side". */
extern const char *const bk_limb_names[BK_LIMBS];

static inline const char *bk_limb_name(int limb)
{
    return bk_limb_names[limb];
}

#endif
