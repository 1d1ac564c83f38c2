/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/angles.h"

#include <math.h>

#define FAR_SD_PX 0.1
#define DEG_PER_RAD 57.29577951308232

bk_pt_px bk_curve_point(const bk_curve *curve, double s_px)
{
    const double at = fmax(s_px / curve->step_px, 0);
    const size_t i = (size_t)at;
    if (i + 1 >= curve->n)
        return curve->points[curve->n - 1];
    const double t = at - (double)i;
    const bk_pt_px p = curve->points[i], q = curve->points[i + 1];
    return (bk_pt_px){p.x + t * (q.x - p.x), p.y + t * (q.y - p.y)};
}

bk_qty bk_projected_angle(const bk_curve *a, const bk_curve *b, bk_pt_px o, double chord_px, const bk_spread_px *c)
{
    const bk_pt_px p = bk_curve_point(a, chord_px), q = bk_curve_point(b, chord_px);
    const double px = p.x - o.x, py = p.y - o.y, qx = q.x - o.x, qy = q.y - o.y;
    const double angle = fabs(atan2(px * qy - py * qx, px * qx + py * qy));
    const double lp = hypot(px, py), lq = hypot(qx, qy);
    /* moving the branch point by d turns each chord by d's part across it: the turns subtract where aligned */
    const double gx = py / (lp * lp) - qy / (lq * lq), gy = -px / (lp * lp) + qx / (lq * lq);
    const double near = gx * gx * c->xx + 2 * gx * gy * c->xy + gy * gy * c->yy;
    const double variance = near + FAR_SD_PX * FAR_SD_PX * (1 / (lp * lp) + 1 / (lq * lq));
    return bk_qty_of(angle * DEG_PER_RAD, sqrt(variance) * DEG_PER_RAD, BK_PROJECTED);
}
