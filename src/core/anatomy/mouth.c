/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/mouth.h"

#include <math.h>

#include "base/order.h"

#define BESIDE_FROM_MM 0.7 /* from the wall on: nearer, the wall's own blur is dark */
#define BESIDE_TO_MM 2.2
#define PROBES 6
#define USUAL_MM 6.0    /* either side: what is usual of a wall or of the ground beside it */
#define STRIDE 8
#define DARK 0.35       /* of the way from the ground to the lumen: the branch is thinner, and the probes lie across it aslant */
#define BRIGHT 0.25
#define SIZABLE 0.5     /* of the limb's diameter; smaller twigs hardly change what is usual of the vessel (r^3 sum: under 5 %) */

/* Median of values within USUAL_MM of each sample; it changes slowly, so every STRIDE samples will do. */
static bk_status usual(const double *values, size_t n, size_t reach, bk_arena *arena, double *out, bk_err *err)
{
    double *scratch = BK_NEW(arena, 2 * reach + 1, double, err);
    if (!scratch)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++) {
        size_t m = 0;
        if (i % STRIDE) {
            out[i] = out[i - 1];
            continue;
        }
        for (size_t k = i > reach ? i - reach : 0; k <= i + reach && k < n; k++)
            scratch[m++] = values[k];
        out[i] = bk_median(scratch, m);
    }
    return BK_OK;
}

/* Mean of probes beside the wall; side: +1 along the normal. */
static double beside(const bk_image *image, const bk_lumen_limb *limb, size_t i, double half_px, int side, double mm_per_px)
{
    double sum = 0;
    for (int k = 0; k < PROBES; k++) {
        const double o = side * (half_px + (BESIDE_FROM_MM + (BESIDE_TO_MM - BESIDE_FROM_MM) * k / (PROBES - 1)) / mm_per_px);
        sum += (double)bk_image_bilinear(image, (float)(limb->axis[i].x + o * limb->normal[i].x), (float)(limb->axis[i].y + o * limb->normal[i].y));
    }
    return sum / PROBES;
}

static double within(const bk_image *image, const bk_lumen_limb *limb, size_t i, double half_px)
{
    double sum = 0;
    for (int k = -1; k <= 1; k++) {
        const double o = 0.4 * k * half_px;
        sum += (double)bk_image_bilinear(image, (float)(limb->axis[i].x + o * limb->normal[i].x), (float)(limb->axis[i].y + o * limb->normal[i].y));
    }
    return sum / 3;
}

typedef struct sides {
    double *half_px;                        /* usual half width */
    double *tone[2], *ground[2], *inside;   /* beside on either side, what is usual there, and in the lumen */
} sides;

static bk_status look_beside(const bk_image *image, const bk_lumen_limb *limb, double mm_per_px, bk_arena *arena, sides *s, bk_err *err)
{
    const size_t n = limb->n, reach = (size_t)(USUAL_MM / mm_per_px / limb->step_px) + 1;
    double **const all[] = {&s->half_px, &s->tone[0], &s->tone[1], &s->ground[0], &s->ground[1], &s->inside};
    for (size_t k = 0; k < sizeof all / sizeof *all; k++)
        if (!(*all[k] = BK_NEW(arena, n, double, err)))
            return err ? err->status : BK_E_LIMIT;
    bk_status status = usual(limb->diameter_px, n, reach, arena, s->half_px, err);
    for (size_t i = 0; i < n; i++) {
        s->half_px[i] *= 0.5;
        s->tone[0][i] = beside(image, limb, i, s->half_px[i], 1, mm_per_px);
        s->tone[1][i] = beside(image, limb, i, s->half_px[i], -1, mm_per_px);
        s->inside[i] = within(image, limb, i, s->half_px[i]);
    }
    for (int k = 0; status == BK_OK && k < 2; k++)
        status = usual(s->tone[k], n, reach, arena, s->ground[k], err);
    return status;
}

/* How dark it is beside a sample: 0 as the ground there, 1 as the lumen. */
static double darkness(const sides *s, size_t i, int side)
{
    const double depth = fmax(0.5 * (s->ground[0][i] + s->ground[1][i]) - s->inside[i], 1e-6);
    return (s->ground[side][i] - s->tone[side][i]) / depth;
}

/* What crosses is dark on the other side too, before or behind; a diaphragm or the end of the limb does not get bright again. */
static bool is_mouth(const sides *s, size_t n, const bk_mouth *m, int side, double step_px)
{
    const double width_px = 2 * s->half_px[m->from];
    const size_t near = (size_t)(1.5 * width_px / step_px);
    bool before = false, behind = false;
    if (m->size_px < SIZABLE * width_px)
        return false;
    for (size_t i = m->from > near ? m->from - near : 0; i <= m->to + near && i < n; i++) {
        if (darkness(s, i, 1 - side) > DARK)
            return false;
        before = before || (i < m->from && darkness(s, i, side) < BRIGHT);
        behind = behind || (i > m->to && darkness(s, i, side) < BRIGHT);
    }
    return before && behind;
}

bk_status bk_mouth_find(const bk_image *log_image, const bk_lumen_limb *limb, size_t first, double mm_per_px, bk_arena *arena,
                        bool *found, bk_mouth *out, bk_err *err)
{
    sides s;
    *found = false;
    const bk_status status = look_beside(log_image, limb, mm_per_px, arena, &s, err);
    for (int side = 0; status == BK_OK && side < 2; side++)
        for (size_t i = first, from = first; i < limb->n; i++) {
            if (darkness(&s, i, side) > DARK)
                continue;
            const bk_mouth m = {from, i - 1, (double)(i - from) * limb->step_px};
            if (i > from && (!*found || m.size_px > out->size_px) && is_mouth(&s, limb->n, &m, side, limb->step_px)) {
                *found = true;
                *out = m;
            }
            from = i + 1;
        }
    return status;
}
