/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/solid_read.h"

#include <string.h>

#include "base/evidence.h"
#include "base/format.h"

#define POINTS_MAX 100000
#define FARTHEST_MM 500.0
#define WIDEST_MM 20.0
#define START_MM 1.0 /* how far the limbs' first points may lie apart */

static bk_status read_point(const bk_json *item, const char *limb, size_t i, bk_vec *out, bk_err *err)
{
    for (size_t k = 0; k < 3; k++)
        out->v[k] = bk_json_number(bk_json_at(item, k));
    if (bk_json_count(item) != 3 || !(bk_vec_length(*out) <= FARTHEST_MM))
        return bk_fail(err, BK_E_DATA, "segments.%s.points_mm.%zu: three numbers within %g mm of the isocentre were expected", limb, i,
                       FARTHEST_MM);
    return BK_OK;
}

static bk_status read_list(const bk_json *list, const char *limb, const char *key, size_t n, double low, double *out, bk_err *err)
{
    if (bk_json_count(list) != n)
        return bk_fail(err, BK_E_DATA, "segments.%s.%s has %zu entries, %zu were expected, as many as points", limb, key,
                       bk_json_count(list), n);
    for (size_t i = 0; i < n; i++) {
        out[i] = bk_json_number(bk_json_at(list, i));
        if (!(out[i] >= low && out[i] <= WIDEST_MM))
            return bk_fail(err, BK_E_DATA, "segments.%s.%s.%zu: a number from %g to %g was expected", limb, key, i, low, WIDEST_MM);
    }
    return BK_OK;
}

static bk_status read_limb(const bk_json *segment, const char *name, bk_arena *arena, bk_curve3 *out, bk_err *err)
{
    const bk_json *points = bk_json_get(segment, "points_mm"), *sd = bk_json_get(segment, "sd_mm");
    const size_t n = bk_json_count(points);
    if (n < 2 || n > POINTS_MAX)
        return bk_fail(err, BK_E_DATA, "segments.%s.points_mm has %zu points, 2 to %d were expected", name, n, POINTS_MAX);
    bk_vec *at = BK_NEW(arena, n, bk_vec, err);
    double *diameter = BK_NEW(arena, n, double, err), *sds = BK_NEW(arena, n, double, err);
    if (!at || !diameter || !sds)
        return err->status;
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < n; i++)
        status = read_point(bk_json_at(points, i), name, i, &at[i], err);
    if (status == BK_OK)
        status = read_list(bk_json_get(segment, "diameter_mm"), name, "diameter_mm", n, 0.01, diameter, err);
    if (status == BK_OK && sd)
        status = read_list(sd, name, "sd_mm", n, 0, sds, err);
    *out = (bk_curve3){n, at, diameter, sd ? sds : NULL, (double)NAN, (double)NAN};
    return status;
}

static double sd_of(const bk_json *solid, const char *path)
{
    const double sd = bk_json_number(bk_json_get(bk_json_path(solid, path), "sd"));
    return sd >= 0 && sd <= 90 ? sd : (double)NAN;
}

static bool said(double sd)
{
    return sd >= 0 && sd <= 90;
}

static void direction_sds(const bk_json *solid, bk_app_solid *out)
{
    const double ps = sd_of(solid, "angles.proximal_side_deg"), pd = sd_of(solid, "angles.proximal_distal_deg"),
                 ds = sd_of(solid, "angles.distal_side_deg");
    const double opposite[BK_LIMBS] = {ds, ps, pd}, all = ps * ps + pd * pd + ds * ds;
    double from_angles[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++) {
        const double own = all - opposite[i] * opposite[i]; /* of the two angles that the limb takes part in */
        from_angles[i] = fmax(0.5 * (own - opposite[i] * opposite[i]), 0.25 * own);
    }
    const double published = bk_evidence_sd(bk_evidence_builtin(), BK_EVIDENCE("views_angle_two_views"));
    for (int i = 0; i < BK_LIMBS; i++) {
        char path[60];
        bk_format(path, sizeof path, "segments.%s.direction_sd_deg", bk_limb_name(i));
        double sd = bk_json_number(bk_json_path(solid, path));
        if (!said(sd) && !isnan(from_angles[i]))
            sd = sqrt(from_angles[i]);
        if (!said(sd)) {
            sd = published / sqrt(2); /* of an angle, which has two such ends */
            out->direction_assumed = true;
        }
        out->limb[i].direction_sd_deg = sd;
    }
}

static void position_sds(const bk_json *solid, bk_app_solid *out)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        char path[60];
        bk_format(path, sizeof path, "segments.%s.position_sd_mm", bk_limb_name(i));
        double sd = bk_json_number(bk_json_path(solid, path));
        bk_format(path, sizeof path, "segments.%s.length_mm", bk_limb_name(i));
        if (!said(sd))
            sd = sd_of(solid, path);
        if (!said(sd)) {
            sd = bk_evidence_sd(bk_evidence_builtin(), BK_EVIDENCE("length_accuracy_two_views"));
            out->position_assumed = true;
        }
        out->limb[i].position_sd_mm = sd;
    }
}

bk_status bk_app_solid_read(const bk_json *solid, bk_arena *arena, bk_app_solid *out, bk_err *err)
{
    *out = (bk_app_solid){0};
    const char *schema = bk_json_text(bk_json_get(solid, "schema"));
    if (strcmp(schema, "branchkeep.solid/1") != 0)
        return bk_fail(err, BK_E_DATA, "schema \"%.40s\" was found, branchkeep.solid/1 was expected", schema);
    for (int i = 0; i < BK_LIMBS; i++) {
        const char *name = bk_limb_name(i);
        const bk_status status = read_limb(bk_json_get(bk_json_get(solid, "segments"), name), name, arena, &out->limb[i], err);
        if (status != BK_OK)
            return status;
        const double off = bk_vec_length(bk_vec_sub(out->limb[i].at[0], out->limb[0].at[0]));
        if (!(off <= START_MM))
            return bk_fail(err, BK_E_DATA, "the %s limb starts %.1f mm from the proximal one, the branch point in common was expected", name, off);
    }
    direction_sds(solid, out);
    position_sds(solid, out);
    return BK_OK;
}
