/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/calibration.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "core/image/edges.h"
#include "core/image/gauss.h"
#include "core/image/linear.h"

#define DEPTH_SD_MM 10.0
#define DISAGREE 0.10
#define REACH_PX 24 /* no catheter shaft is wider than twice this in any usual image */
#define BLUR_PX 1.0

const char *bk_scale_origin_name(bk_scale_origin origin)
{
    static const char *const names[] = {"entered", "catheter", "marker", "isocentre"};
    return names[origin];
}

const char *bk_scale_agreement(const bk_scale *scale)
{
    return scale->routes_n < 2 ? "single" : scale->disagree ? "disagree" : "agree";
}

bool bk_scale_by_isocentre(double spacing_mm, double sod_mm, double sid_mm, bk_scale_route *out)
{
    if (!(spacing_mm > 0 && sod_mm > 0 && sid_mm > sod_mm))
        return false;
    *out = (bk_scale_route){BK_SCALE_ISOCENTRE, spacing_mm * sod_mm / sid_mm, 100 * DEPTH_SD_MM / sod_mm};
    return true;
}

/* Mean profile across the shaft, from -REACH_PX to +REACH_PX in steps of half a pixel. */
#define PROFILE_N (4 * REACH_PX + 1)
static void mean_profile(const bk_image *image, const bk_curve *axis, double profile[PROFILE_N])
{
    const bk_pt_px a = axis->points[0], b = axis->points[axis->n - 1];
    const double length = bk_px_distance(a, b), nx = (b.y - a.y) / length, ny = -(b.x - a.x) / length;
    for (int j = 0; j < PROFILE_N; j++) {
        const double offset = 0.5 * (j - 2 * REACH_PX);
        profile[j] = 0;
        for (size_t i = 0; i < axis->n; i++)
            profile[j] += bk_image_sample(image, axis->points[i].x + offset * nx, axis->points[i].y + offset * ny) /
                          (double)axis->n;
    }
}

/* Offset of the steepest rise going outwards; nearer ones win over slightly steeper far ones. */
static double steepest(const double profile[PROFILE_N], int side)
{
    double best = 0, at = 0;
    for (int k = 2; k < 2 * REACH_PX - 1; k++) {
        const int j = 2 * REACH_PX + side * k;
        const double rise = (profile[j + side] - profile[j - side]) / (1 + 0.02 * k);
        if (rise > best) {
            best = rise;
            at = 0.5 * k;
        }
    }
    return at;
}

static int by_value(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

/* Median width of the shaft and its spread in px; the two ends are left out, where the clicks may overshoot. */
static bk_status shaft_width(const bk_image *smooth, const bk_curve *axis, double radius_px, double diameter_mm,
                             bk_arena *arena, double *width_px, double *spread_px, bk_err *err)
{
    bk_lumen_limb shaft;
    double *radius = BK_NEW(arena, axis->n, double, err);
    if (!radius)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < axis->n; i++)
        radius[i] = radius_px;
    const double mm_per_px = diameter_mm / (2 * radius_px);
    bk_edge_table table;
    bk_edge_table_fill(&table);
    const bk_edge_options options = {mm_per_px, hypot(BLUR_PX, 0.13 / mm_per_px), &table, 0};
    bk_status status = bk_edges_follow(smooth, axis, radius, &options, arena, &shaft, err);
    if (status != BK_OK)
        return status;
    const size_t edge = axis->n / 10, n = axis->n - 2 * edge;
    qsort(shaft.diameter_px + edge, n, sizeof(double), by_value);
    *width_px = shaft.diameter_px[edge + n / 2];
    *spread_px = 0.5 * (shaft.diameter_px[edge + (size_t)(0.84 * (double)n)] - shaft.diameter_px[edge + (size_t)(0.16 * (double)n)]);
    return *width_px > 1 ? BK_OK : bk_fail(err, BK_E_NOTHING, "a catheter of %.1f px was found, a wider one was expected", *width_px);
}

bk_status bk_scale_by_catheter(const bk_image *log_image, const double ends_px[4], double french, bk_tri filled,
                               bk_arena *arena, bk_scale_route *out, bk_err *err)
{
    if (!(french >= 3 && french <= 12))
        return bk_fail(err, BK_E_USAGE, "a catheter of %.1f French was found, 3 to 12 were expected", french);
    const bk_pt_px ends[2] = {{ends_px[0], ends_px[1]}, {ends_px[2], ends_px[3]}};
    if (!(bk_px_distance(ends[0], ends[1]) >= 10))
        return bk_fail(err, BK_E_USAGE, "a catheter stretch of %.1f px was found, at least 10 px were expected",
                       bk_px_distance(ends[0], ends[1]));
    for (int i = 0; i < 2; i++)
        if (!(ends[i].x >= 0 && ends[i].y >= 0 && ends[i].x < log_image->cols && ends[i].y < log_image->rows))
            return bk_fail(err, BK_E_USAGE, "a catheter point lies at %.1f,%.1f, outside the frame of %d x %d", ends[i].x,
                           ends[i].y, log_image->cols, log_image->rows);
    bk_image smooth;
    bk_curve axis;
    bk_status status = bk_image_new(log_image->rows, log_image->cols, arena, &smooth, err);
    if (status == BK_OK)
        status = bk_gauss_blur(log_image, BLUR_PX, arena, &smooth, err);
    if (status == BK_OK)
        status = bk_curve_resample(ends, 2, 0.5, arena, &axis, err);
    if (status != BK_OK)
        return status;
    double profile[PROFILE_N], width_px = 0, spread_px = 0;
    mean_profile(&smooth, &axis, profile);
    const double left = steepest(profile, 1), right = steepest(profile, -1);
    if (!(left > 0 && right > 0))
        return bk_fail(err, BK_E_NOTHING, "no dark catheter was found between the two points");
    status = shaft_width(&smooth, &axis, 0.5 * (left + right), french / 3, arena, &width_px, &spread_px, err);
    if (status != BK_OK)
        return bk_fail_in(err, "catheter");
    const double shows_pct = filled == BK_YES ? 4 : filled == BK_NO ? 8 : 10;
    *out = (bk_scale_route){BK_SCALE_CATHETER, french / 3 / width_px, hypot(shows_pct, 100 * spread_px / width_px)};
    return BK_OK;
}

bk_status bk_scale_by_marker(const double ends_px[4], double length_mm, bk_scale_route *out, bk_err *err)
{
    const double length_px = hypot(ends_px[2] - ends_px[0], ends_px[3] - ends_px[1]);
    if (!(length_mm > 0) || !(length_px >= 5))
        return bk_fail(err, BK_E_USAGE, "a marker of %.2f mm over %.1f px was found, both positive and at least 5 px were expected",
                       length_mm, length_px);
    *out = (bk_scale_route){BK_SCALE_MARKER, length_mm / length_px, hypot(4, 100 * 0.5 * sqrt(2) / length_px)};
    return BK_OK;
}

double bk_scale_usual(int cols)
{
    return 0.25 * 512 / cols;
}

void bk_scale_add(bk_scale *scale, bk_scale_route route)
{
    if (scale->routes_n >= BK_SCALE_ROUTES_MAX)
        return;
    int at = scale->routes_n++;
    for (; at > 0 && scale->route[at - 1].origin > route.origin; at--)
        scale->route[at] = scale->route[at - 1];
    scale->route[at] = route;
}

void bk_scale_judge(bk_scale *scale)
{
    scale->disagree = false;
    scale->disagreement = 0;
    for (int i = 1; i < scale->routes_n; i++) {
        const double apart = fabs(log(scale->route[i].mm_per_px / scale->route[0].mm_per_px));
        const double sd = 0.01 * hypot(scale->route[i].sd_pct, scale->route[0].sd_pct);
        if (apart > DISAGREE || apart > 2 * sd) {
            scale->disagree = true;
            scale->disagreement = fmax(scale->disagreement, apart);
        }
    }
}
