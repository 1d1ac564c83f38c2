/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A clinical number with its spread and its origin (contract: "Numbers and their origin"). */
#ifndef BK_BASE_QTY_H
#define BK_BASE_QTY_H

#include <math.h>
#include <stdbool.h>

typedef enum bk_origin {
    BK_ORIGIN_ABSENT = 0, /* no value at all */
    BK_MEASURED,
    BK_PROJECTED, /* seen in one view only */
    BK_VISUAL,    /* estimated by eye */
    BK_ENTERED,   /* taken from another source as exact */
    BK_DERIVED,
    BK_ASSUMED
} bk_origin;

typedef struct bk_qty {
    double value; /* meaningful only when origin is not BK_ORIGIN_ABSENT */
    double sd;    /* NaN when unknown */
    bk_origin origin;
} bk_qty;

/* Yes/no facts; unknown is the default and so the zero. */
typedef enum bk_tri { BK_UNKNOWN = 0, BK_NO, BK_YES } bk_tri;

static inline bool bk_has(bk_qty q)
{
    return q.origin != BK_ORIGIN_ABSENT;
}
/* The value; NaN when absent. */
static inline double bk_value(bk_qty q)
{
    return q.origin != BK_ORIGIN_ABSENT ? q.value : (double)NAN;
}
static inline bk_qty bk_qty_of(double value, double sd, bk_origin origin)
{
    return (bk_qty){value, sd, origin};
}
static inline bk_qty bk_qty_absent(void)
{
    return (bk_qty){NAN, NAN, BK_ORIGIN_ABSENT};
}

/** "measured", "projected", ...; "absent" for BK_ORIGIN_ABSENT. */
const char *bk_origin_name(bk_origin origin);
/** Inverse of bk_origin_name; BK_ORIGIN_ABSENT for an unknown text. */
bk_origin bk_origin_from(const char *name);
/** "yes", "no" or "unknown". */
const char *bk_tri_name(bk_tri tri);

#endif
