/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/second_view.h"

#include <stdbool.h>

#include "core/anatomy/space/carm.h"

double bk_views_apart_deg(double primary_a, double secondary_a, double primary_b, double secondary_b)
{
    const double deg = bk_vec_angle_deg(bk_carm_beam(primary_a, secondary_a), bk_carm_beam(primary_b, secondary_b));
    return fmin(deg, 180 - deg);
}

double bk_views_depth_error(double apart_deg)
{
    return 1 / (sqrt(2) * sin(apart_deg / 360 * 3.14159265358979323846));
}

/* The ranges of primary angle of one row that serve; counts positions. */
static void find_row(const bk_second_place *first, double least_deg, const double reach[2], bk_second_row *row, bk_second_view *out,
                     int count[2])
{
    bool inside = false;
    row->n = 0;
    for (double primary = reach[0]; primary <= reach[1]; primary += 1) {
        const double apart = bk_views_apart_deg(first->primary_deg, first->secondary_deg, primary, row->secondary_deg);
        const bool serves = apart >= least_deg - 1e-9;
        const bk_second_place place = {primary, row->secondary_deg, apart};
        count[0]++;
        count[1] += serves;
        if (serves && !inside && row->n < BK_SECOND_RANGES)
            row->primary_deg[row->n++][0] = primary;
        if (serves && row->n > 0)
            row->primary_deg[row->n - 1][1] = primary;
        inside = serves;
        if (!serves)
            continue;
        const double turn = fabs(primary - first->primary_deg) + fabs(row->secondary_deg - first->secondary_deg);
        const double before = fabs(out->nearest.primary_deg - first->primary_deg) + fabs(out->nearest.secondary_deg - first->secondary_deg);
        if (count[1] == 1 || turn < before)
            out->nearest = place;
        if (count[1] == 1 || apart > out->widest.apart_deg)
            out->widest = place;
    }
}

void bk_second_view_find(double primary_deg, double secondary_deg, double least_deg, const double primary_reach[2],
                         const double secondary_reach[2], bk_second_view *out)
{
    const bk_second_place first = {primary_deg, secondary_deg, 0};
    int count[2] = {0};
    *out = (bk_second_view){0};
    const int rows = (int)floor(secondary_reach[1] - secondary_reach[0]) + 1, every = (int)BK_SECOND_STEP_DEG;
    for (int i = 0; i < rows; i++) {
        bk_second_row row = {.secondary_deg = secondary_reach[0] + i};
        find_row(&first, least_deg, primary_reach, &row, out, count);
        if (i % every == 0 && out->n < BK_SECOND_ROWS)
            out->row[out->n++] = row;
    }
    out->share_pct = count[0] > 0 ? 100.0 * count[1] / count[0] : 0;
}
