/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/calibration.h"

#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/anatomy/empty_catheter.h"
#include "core/image/edges.h"
#include "core/image/gauss.h"
#include "core/image/linear.h"

#define REACH_PX 24 /* no catheter shaft is wider than twice this in any usual image */
#define BLUR_PX 1.0
#define PSF_MM 0.13 /* usual blur at the patient, SD */

const char *bk_scale_origin_name(bk_scale_origin origin)
{
    static const char *const names[] = {"entered", "catheter", "marker", "isocentre"};
    return names[origin];
}

const char *bk_scale_agreement(const bk_scale *scale)
{
    return scale->routes_n < 2 ? "single" : scale->disagree ? "disagree" : "agree";
}

bool bk_scale_by_isocentre(double spacing_mm, double sod_mm, double sid_mm, const bk_evidence_set *evidence,
                           bk_scale_route *out)
{
    if (!(spacing_mm > 0 && sod_mm > 0 && sid_mm > sod_mm))
        return false;
    const double depth_sd_mm = bk_evidence_value(evidence, BK_EVIDENCE("scale_depth_sd"));
    *out = (bk_scale_route){BK_SCALE_ISOCENTRE, spacing_mm * sod_mm / sid_mm, 100 * depth_sd_mm / sod_mm};
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

/* Median width of the shaft and its spread in px; the two ends are left out, where the clicks may overshoot. */
static bk_status shaft_width(const bk_image *smooth, bk_curve *axis, double radius_px, double diameter_mm,
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
    /* no regions: an empty catheter is paler inside than its wall */
    const bk_edge_options options = {mm_per_px, hypot(BLUR_PX, PSF_MM / mm_per_px), &table, 0, axis->n, false};
    bk_status status = bk_edges_follow(smooth, axis, radius, &options, arena, &shaft, err);
    if (status != BK_OK)
        return status;
    *axis = (bk_curve){shaft.axis, shaft.n, shaft.step_px};
    const size_t edge = axis->n / 10, n = axis->n - 2 * edge;
    bk_sort_doubles(shaft.diameter_px + edge, n);
    *width_px = shaft.diameter_px[edge + n / 2];
    *spread_px = 0.5 * (shaft.diameter_px[edge + (size_t)(0.84 * (double)n)] - shaft.diameter_px[edge + (size_t)(0.16 * (double)n)]);
    return *width_px > 1 ? BK_OK : bk_fail(err, BK_E_NOTHING, "a catheter of %.1f px was found, a wider one was expected", *width_px);
}

static bk_status check_catheter(const bk_image *image, const bk_catheter *c, bk_err *err)
{
    if (!(c->french >= 3 && c->french <= 12))
        return bk_fail(err, BK_E_USAGE, "a catheter of %.1f French was found, 3 to 12 were expected", c->french);
    const double length = hypot(c->ends_px[2] - c->ends_px[0], c->ends_px[3] - c->ends_px[1]);
    if (!(length >= 10))
        return bk_fail(err, BK_E_USAGE, "a catheter stretch of %.1f px was found, at least 10 px were expected", length);
    for (int i = 0; i < 4; i += 2)
        if (!(c->ends_px[i] >= 0 && c->ends_px[i + 1] >= 0 && c->ends_px[i] < image->cols && c->ends_px[i + 1] < image->rows))
            return bk_fail(err, BK_E_USAGE, "a catheter point lies at %.1f,%.1f, outside the frame of %d x %d", c->ends_px[i],
                           c->ends_px[i + 1], image->cols, image->rows);
    return BK_OK;
}

static double catheter_sd_pct(bk_tri filled, const bk_evidence_set *evidence)
{
    if (filled == BK_UNKNOWN)
        return bk_evidence_value(evidence, BK_EVIDENCE("scale_catheter_unknown"));
    return filled == BK_YES ? bk_evidence_value(evidence, BK_EVIDENCE("scale_catheter_filled"))
                            : bk_evidence_value(evidence, BK_EVIDENCE("scale_catheter_empty"));
}

bk_status bk_scale_by_catheter(const bk_image *log_image, const bk_catheter *catheter, const bk_evidence_set *evidence,
                               bk_arena *arena, bk_scale_route *out, bk_err *err)
{
    if (check_catheter(log_image, catheter, err) != BK_OK)
        return BK_E_USAGE;
    const double *e = catheter->ends_px, diameter_mm = catheter->french / 3;
    const bk_pt_px ends[2] = {{e[0], e[1]}, {e[2], e[3]}};
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
    status = shaft_width(&smooth, &axis, 0.5 * (left + right), diameter_mm, arena, &width_px, &spread_px, err);
    /* edges know a dark tube; an empty one is two dark walls, and edges read it a sixth too wide */
    if (status == BK_OK && catheter->filled == BK_NO)
        status = bk_empty_catheter_width(log_image, &axis, width_px, PSF_MM * width_px / diameter_mm, arena, &width_px, &spread_px, err);
    if (status != BK_OK)
        return bk_fail_in(err, "catheter");
    *out = (bk_scale_route){BK_SCALE_CATHETER, diameter_mm / width_px,
                            hypot(catheter_sd_pct(catheter->filled, evidence), 100 * spread_px / width_px)};
    return BK_OK;
}

bk_status bk_scale_by_marker(const double ends_px[4], double length_mm, const bk_evidence_set *evidence,
                             bk_scale_route *out, bk_err *err)
{
    const double length_px = hypot(ends_px[2] - ends_px[0], ends_px[3] - ends_px[1]);
    if (!(length_mm > 0) || !(length_px >= 5))
        return bk_fail(err, BK_E_USAGE, "a marker of %.2f mm over %.1f px was found, both positive and at least 5 px were expected",
                       length_mm, length_px);
    const double tilt_pct = bk_evidence_value(evidence, BK_EVIDENCE("scale_marker_tilt"));
    *out = (bk_scale_route){BK_SCALE_MARKER, length_mm / length_px, hypot(tilt_pct, 100 * 0.5 * sqrt(2) / length_px)};
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

void bk_scale_judge(bk_scale *scale, const bk_evidence_set *evidence)
{
    const double limit = 0.01 * bk_evidence_value(evidence, BK_EVIDENCE("scale_disagree"));
    scale->disagree = false;
    scale->disagreement = 0;
    for (int i = 1; i < scale->routes_n; i++) {
        const double apart = fabs(log(scale->route[i].mm_per_px / scale->route[0].mm_per_px));
        const double sd = 0.01 * hypot(scale->route[i].sd_pct, scale->route[0].sd_pct);
        if (apart > limit || apart > 2 * sd) {
            scale->disagree = true;
            scale->disagreement = fmax(scale->disagreement, apart);
        }
    }
}
