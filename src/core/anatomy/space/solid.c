/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/solid.h"

#include <math.h>

#include "core/anatomy/angles.h"
#include "core/anatomy/lesion.h"

#define FINE_MM 0.1     /* steps in which arc length is summed */
#define NEAR_END_PX 8.0
#define MLD_RUN_MM 0.5  /* contract: a stretch of at least that */
#define PI 3.14159265358979323846

/* Arc length against the curve's parameter. */
typedef struct ruler {
    size_t n;
    double *s, *arc;
} ruler;

static bk_status rule(const bk_space_curve *c, bk_arena *arena, ruler *out, bk_err *err)
{
    out->n = (size_t)ceil(c->end_mm / FINE_MM) + 1;
    out->s = BK_NEW(arena, 2 * out->n, double, err);
    if (out->s == NULL)
        return BK_E_LIMIT;
    out->arc = out->s + out->n;
    bk_vec before = bk_space_at(c, 0, NULL);
    for (size_t k = 0; k < out->n; k++) {
        out->s[k] = c->end_mm * (double)k / (double)(out->n - 1);
        const bk_vec p = bk_space_at(c, out->s[k], NULL);
        out->arc[k] = k > 0 ? out->arc[k - 1] + bk_vec_length(bk_vec_sub(p, before)) : 0;
        before = p;
    }
    return BK_OK;
}

static double between(const double *x, const double *y, size_t n, double at)
{
    size_t low = 0, high = n - 1;
    while (high - low > 1) {
        const size_t middle = (low + high) / 2;
        *(x[middle] <= at ? &low : &high) = middle;
    }
    const double step = x[high] - x[low];
    return y[low] + (step > 0 ? fmin(fmax((at - x[low]) / step, 0), 1) : 0) * (y[high] - y[low]);
}

/* Foot of a parameter in a view, between the fitted samples. */
static double foot_at(const bk_space_fit *fit, size_t limb, size_t view, double s_mm)
{
    const bk_space_samples *const t = &fit->samples[limb];
    const double at = fmin(fmax(s_mm / t->step_mm, 0), (double)(t->n - 1));
    const size_t k = (size_t)at + 1 < t->n ? (size_t)at : t->n > 1 ? t->n - 2 : 0;
    const double *const arc = t->arc_px[view];
    return t->n > 1 ? arc[k] + (at - (double)k) * (arc[k + 1] - arc[k]) : arc[0];
}

/* Parameter from which every view shows the limb with a diameter, or up to which one does. */
static double first_sized(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const ruler *r)
{
    for (size_t k = 0; k < r->n; k++) {
        bool sized = true;
        for (size_t v = 0; v < fit->views; v++) {
            const bk_sight_limb *const l = &sight[v].limb[limb];
            sized = sized && foot_at(fit, limb, v, r->s[k]) >= l->arc_px[l->first];
        }
        if (sized)
            return r->arc[k];
    }
    return r->arc[r->n - 1];
}

/* Where the projection comes to the end of the limb in one of the views. */
static double last_seen(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const ruler *r)
{
    for (size_t k = 1; k < r->n; k++) {
        const bk_vec p = bk_space_at(&fit->limb[limb], r->s[k], NULL);
        for (size_t v = 0; v < fit->views; v++) {
            const bk_sight_limb *const l = &sight[v].limb[limb];
            const double near = foot_at(fit, limb, v, r->s[k]), end = bk_sight_length(l);
            if (near > end - NEAR_END_PX && bk_sight_foot(l, bk_carm_project(&fit->carm[v], p), near, 2 * NEAR_END_PX) >= end - 1e-6)
                return r->arc[k];
        }
    }
    return r->arc[r->n - 1];
}

static bk_status make_room(bk_space_limb *l, bk_arena *arena, bk_err *err)
{
    double *const room = BK_NEW(arena, 6 * l->n, double, err);
    l->point = BK_NEW(arena, l->n, bk_vec, err);
    if (room == NULL || l->point == NULL)
        return BK_E_LIMIT;
    l->position_mm = room;
    l->diameter_mm = room + l->n;
    l->sd_mm = room + 2 * l->n;
    l->minor_mm = room + 3 * l->n;
    l->major_mm = room + 4 * l->n;
    l->reference_mm = room + 5 * l->n;
    return BK_OK;
}

/* Widths, reference and section at one place. */
static bk_section section_at(const bk_space_fit *fit, const bk_sight *sight, size_t limb, double s_mm, double *reference_mm)
{
    bk_vec tangent;
    const bk_vec p = bk_space_at(&fit->limb[limb], s_mm, &tangent);
    bk_section_width width[BK_SIGHTS_MAX];
    double sum = 0, weights = 0;
    for (size_t v = 0; v < fit->views; v++) {
        const bk_sight_limb *const l = &sight[v].limb[limb];
        const double mm = bk_carm_mm_per_px(&fit->carm[v], p), arc = foot_at(fit, limb, v, s_mm);
        width[v] = (bk_section_width){fmax(mm * bk_sight_at(l, l->diameter_px, arc), 1e-3), fmax(mm * bk_sight_at(l, l->sd_px, arc), 1e-3),
                                      bk_section_angle(bk_vec_unit(tangent), bk_vec_sub(p, fit->carm[v].source))};
        const double weight = 1 / fmax(l->reference_sd_px * l->reference_sd_px, 1e-6);
        sum += weight * mm * bk_sight_at(l, l->reference_px, arc);
        weights += weight;
    }
    *reference_mm = sum / weights;
    return bk_section_of(width, fit->views);
}

static bk_status sample_limb(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const ruler *r, bk_arena *arena,
                             bk_space_limb *out, bk_err *err)
{
    const double length = last_seen(fit, sight, limb, r);
    out->ostium_mm = fmin(first_sized(fit, sight, limb, r), length);
    out->n = (size_t)(length / BK_SPACE_STEP_MM) + 2;
    const bk_status status = make_room(out, arena, err);
    for (size_t k = 0; status == BK_OK && k < out->n; k++) {
        const double at = fmin((double)k * BK_SPACE_STEP_MM, length);
        out->position_mm[k] = at;
        out->point[k] = bk_space_at(&fit->limb[limb], between(r->arc, r->s, r->n, at), NULL);
        const double sized = between(r->arc, r->s, r->n, fmax(at, out->ostium_mm)); /* the core has the ostium's */
        const bk_section section = section_at(fit, sight, limb, sized, &out->reference_mm[k]);
        out->diameter_mm[k] = section.diameter_mm;
        out->sd_mm[k] = section.sd_mm;
        out->minor_mm[k] = section.minor_mm;
        out->major_mm[k] = section.major_mm;
    }
    return status;
}

/* g' C g of the fit's covariance. */
static double variance(const bk_space_fit *fit, const double *gradient)
{
    double sum = 0;
    for (size_t i = 0; i < fit->unknowns; i++)
        for (size_t j = 0; gradient[i] != 0 && j < fit->unknowns; j++)
            sum += gradient[i] * fit->covariance[i * fit->unknowns + j] * gradient[j];
    return fmax(sum, 0);
}

static void add_gradient(const bk_space_curve *c, double s_mm, bk_vec by, double *gradient)
{
    double value[4], slope[4];
    const size_t first = bk_space_basis(c, s_mm, value, slope);
    for (size_t k = 0; k < 4; k++)
        for (size_t x = 0; x < 3; x++)
            gradient[c->first + 3 * (first + k) + x] += value[k] * by.v[x];
}

static void measure_length(const bk_space_fit *fit, size_t limb, const ruler *r, double *gradient, bk_space_limb *out)
{
    const bk_space_curve *const c = &fit->limb[limb];
    const double length = out->position_mm[out->n - 1];
    for (size_t i = 0; i < fit->unknowns; i++)
        gradient[i] = 0;
    for (size_t k = 1; k < r->n && r->arc[k] <= length; k++) {
        const bk_vec step = bk_vec_sub(bk_space_at(c, r->s[k], NULL), bk_space_at(c, r->s[k - 1], NULL));
        const bk_vec along = bk_vec_unit(step);
        add_gradient(c, r->s[k], along, gradient);
        add_gradient(c, r->s[k - 1], bk_vec_times(-1, along), gradient);
    }
    out->length_mm = bk_qty_of(length, sqrt(variance(fit, gradient)), BK_MEASURED);
}

/* Smallest running mean over MLD_RUN_MM between the ostium and the end: its middle, and the mean of the areas there; NaN
   where there is no such stretch. */
static double find_mld(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const ruler *r, const bk_space_limb *l, double *work,
                       double *area_mm2, double *at_mm)
{
    const double step = r->arc[r->n - 1] / (double)(r->n - 1), end = l->position_mm[l->n - 1];
    const size_t run = (size_t)(MLD_RUN_MM / step + 0.5) + 1, first = (size_t)ceil(l->ostium_mm / step), last = (size_t)(end / step);
    double least = INFINITY, sum = 0, areas = 0, reference;
    double *const diameter = work, *const area = work + r->n;
    for (size_t k = first; k <= last && k < r->n; k++) {
        const bk_section section = section_at(fit, sight, limb, r->s[k], &reference);
        diameter[k] = section.diameter_mm;
        area[k] = 0.25 * PI * section.minor_mm * section.major_mm;
        sum += diameter[k];
        areas += area[k];
        if (k >= first + run) {
            sum -= diameter[k - run];
            areas -= area[k - run];
        }
        if (k + 1 >= first + run && sum < least) {
            least = sum;
            *area_mm2 = areas / (double)run;
            *at_mm = 0.5 * (r->arc[k] + r->arc[k + 1 - run]);
        }
    }
    return isfinite(least) ? least / (double)run : (double)NAN;
}

/* SD of the MLD: what the views say of theirs, and how far they disagree here. */
static double mld_sd(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const bk_section *section, bk_vec p, double *reference_sd)
{
    double own = 0, reference = 0; /* what makes one view's reference wrong makes that of the others wrong as well */
    for (size_t v = 0; v < fit->views; v++) {
        const double mm = bk_carm_mm_per_px(&fit->carm[v], p);
        own += 1 / pow(fmax(mm * sight[v].limb[limb].mld_sd_px, 1e-3), 2);
        reference += mm * sight[v].limb[limb].reference_sd_px / (double)fit->views;
    }
    *reference_sd = reference;
    return sqrt(1 / own) * fmax(section->disagreement, 1);
}

static void measure_lumen(const bk_space_fit *fit, const bk_sight *sight, size_t limb, const ruler *r, double *work, bk_space_limb *out,
                          double *spread_deg)
{
    double area = 0, at = 0, reference, reference_sd;
    const double mld = find_mld(fit, sight, limb, r, out, work, &area, &at);
    if (!isfinite(mld))
        return;
    out->mld_position_mm = at;
    const double s = between(r->arc, r->s, r->n, out->mld_position_mm);
    const bk_section section = section_at(fit, sight, limb, s, &reference);
    const double sd = mld_sd(fit, sight, limb, &section, bk_space_at(&fit->limb[limb], s, NULL), &reference_sd);
    const double ratio = mld / reference, ratio_sd = ratio * hypot(sd / mld, reference_sd / reference);
    out->mld_mm = bk_qty_of(mld, sd, BK_MEASURED);
    out->reference_mm_at_mld = bk_qty_of(reference, reference_sd, BK_MEASURED);
    out->stenosis_pct = bk_qty_of(100 * (1 - ratio), 100 * ratio_sd, BK_MEASURED);
    const double share = area / (0.25 * PI * reference * reference), band = 1.6448536269514722 * section.unround;
    out->area_stenosis_pct = bk_qty_of(100 * (1 - share), 100 * 2 * share * ratio_sd / ratio, BK_MEASURED);
    out->area_stenosis_band_pct[0] = 100 * (1 - share * (1 + band));
    out->area_stenosis_band_pct[1] = 100 * (1 - share * fmax(1 - band, 0));
    *spread_deg = section.spread_deg;
    out->disagreement = section.disagreement;
    size_t first = 0;
    while (first + 1 < out->n && out->position_mm[first] < out->ostium_mm)
        first++;
    const bk_lesion_curve curve = {.position_mm = out->position_mm + first, .diameter_mm = out->diameter_mm + first,
                                   .reference_mm = out->reference_mm + first, .n = out->n - first};
    const bk_lesion_extent lesion = bk_lesion_find(&curve);
    if (!lesion.found)
        return;
    out->lesion_from_mm = lesion.from_mm;
    out->lesion_to_mm = lesion.to_mm;
    const double share_of = (lesion.to_mm - lesion.from_mm) / out->length_mm.value;
    out->lesion_length_mm = bk_qty_of(lesion.to_mm - lesion.from_mm, hypot(BK_SPACE_STEP_MM, share_of * out->length_mm.sd), BK_MEASURED);
}

static void measure_foreshortening(const bk_space_fit *fit, bk_space_limb *out)
{
    for (size_t v = 0; v < fit->views; v++) {
        double seen = 0, length = 0;
        for (size_t k = 1; k < out->n; k++) {
            const bk_vec step = bk_vec_sub(out->point[k], out->point[k - 1]);
            const bk_vec ray = bk_vec_unit(bk_vec_sub(out->point[k], fit->carm[v].source));
            seen += bk_vec_length(bk_vec_cross(step, ray));
            length += bk_vec_length(step);
        }
        out->foreshortening_pct[v] = length > 0 ? 100 * (1 - seen / length) : 0;
    }
}

/* Angle between the chords of two limbs, with its SD. */
static bk_qty angle(const bk_space_fit *fit, const ruler r[BK_LIMBS], size_t a, size_t b, double *gradient)
{
    const double sa = between(r[a].arc, r[a].s, r[a].n, BK_ANGLE_CHORD_MM), sb = between(r[b].arc, r[b].s, r[b].n, BK_ANGLE_CHORD_MM);
    const bk_space_curve *const ca = &fit->limb[a], *const cb = &fit->limb[b];
    const bk_vec u = bk_vec_sub(bk_space_at(ca, sa, NULL), bk_space_at(ca, 0, NULL));
    const bk_vec v = bk_vec_sub(bk_space_at(cb, sb, NULL), bk_space_at(cb, 0, NULL));
    const double nu = bk_vec_length(u), nv = bk_vec_length(v), deg = bk_vec_angle_deg(u, v);
    const double cosine = cos(deg * PI / 180), sine = fmax(sin(deg * PI / 180), 0.05);
    const bk_vec du = bk_vec_times(-1 / (sine * nu), bk_vec_along(bk_vec_times(1 / nv, v), -cosine / nu, u));
    const bk_vec dv = bk_vec_times(-1 / (sine * nv), bk_vec_along(bk_vec_times(1 / nu, u), -cosine / nv, v));
    for (size_t i = 0; i < fit->unknowns; i++)
        gradient[i] = 0;
    add_gradient(ca, sa, du, gradient);
    add_gradient(ca, 0, bk_vec_times(-1, du), gradient);
    add_gradient(cb, sb, dv, gradient);
    add_gradient(cb, 0, bk_vec_times(-1, dv), gradient);
    return bk_qty_of(deg, 180 / PI * sqrt(variance(fit, gradient)), BK_MEASURED);
}

static double apart_deg(const bk_sight *sight, size_t views)
{
    double most = 0;
    for (size_t i = 0; i < views; i++)
        for (size_t j = 0; j < i; j++) {
            const double deg = bk_vec_angle_deg(sight[i].carm.beam, sight[j].carm.beam);
            most = fmax(most, fmin(deg, 180 - deg)); /* two opposite views are one */
        }
    return most;
}

/* A drift across the other view's rays, in the epipolar plane, moves the crossing by its share of the sine along the first
   view's rays; sizes across these grow with all of it, those along them with its cosine: their mean. */
static double scale_sd(double drift_mm, double apart, double sod_mm)
{
    const double sine = fmax(sin(apart * PI / 180), 0.05), cosine = cos(apart * PI / 180);
    return drift_mm / sine * 0.5 * (1 + cosine) / sod_mm;
}

bk_status bk_space_solid_new(const bk_sight *sight, size_t views, const bk_space_options *options, bk_arena *arena,
                             bk_space_solid *out, bk_err *err)
{
    *out = (bk_space_solid){.view_separation_deg = apart_deg(sight, views)};
    bk_status status = bk_space_fit_limbs(sight, views, options, arena, &out->fit, err);
    if (status != BK_OK)
        return status;
    ruler r[BK_LIMBS];
    double *const gradient = BK_NEW(arena, out->fit.unknowns, double, err), narrowest = INFINITY;
    if (gradient == NULL)
        return BK_E_LIMIT;
    for (size_t k = 0; k < BK_LIMBS; k++) {
        bk_space_limb *const limb = &out->limb[k];
        double spread = 0;
        *limb = (bk_space_limb){.mld_position_mm = NAN, .lesion_from_mm = NAN, .lesion_to_mm = NAN};
        status = rule(&out->fit.limb[k], arena, &r[k], err);
        if (status == BK_OK)
            status = sample_limb(&out->fit, sight, k, &r[k], arena, limb, err);
        double *const work = BK_NEW(arena, 2 * r[k].n, double, err);
        if (status != BK_OK || work == NULL)
            return status != BK_OK ? status : BK_E_LIMIT;
        for (size_t v = 0; v < views; v++)
            limb->occluded = limb->occluded || sight[v].limb[k].occluded;
        measure_length(&out->fit, k, &r[k], gradient, limb);
        measure_lumen(&out->fit, sight, k, &r[k], work, limb, &spread);
        measure_foreshortening(&out->fit, limb);
        if (bk_has(limb->mld_mm) && limb->mld_mm.value < narrowest) {
            narrowest = limb->mld_mm.value;
            out->spread_deg = spread;
        }
    }
    out->scale_sd = scale_sd(options->drift_sd_mm, out->view_separation_deg, sight[0].carm.sod_mm);
    for (size_t k = 0; k < BK_LIMBS; k++) {
        bk_qty *const size[] = {&out->limb[k].length_mm, &out->limb[k].mld_mm, &out->limb[k].reference_mm_at_mld, &out->limb[k].lesion_length_mm};
        for (size_t i = 0; i < sizeof size / sizeof *size; i++)
            size[i]->sd = hypot(size[i]->sd, size[i]->value * out->scale_sd);
    }
    out->distal_side_deg = angle(&out->fit, r, BK_DISTAL, BK_SIDE, gradient);
    out->proximal_side_deg = angle(&out->fit, r, BK_PROXIMAL, BK_SIDE, gradient);
    out->proximal_distal_deg = angle(&out->fit, r, BK_PROXIMAL, BK_DISTAL, gradient);
    return BK_OK;
}
