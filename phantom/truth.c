/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/truth.h"

#include <math.h>

#define MEAN_MM                                                                                              \
    0.5 /* the least lumen is a mean over this stretch (contract: "a stretch of at least 0.5 mm") */
#define CHORD_MM 8.0 /* angles (contract) */
#define LESION_SHARE 0.9
#define NEAR_BRANCH_MM 12.0

double ph_truth_stenosis_pct(double lumen_mm, double reference_mm)
{
    return 100 * (1 - lumen_mm / reference_mm);
}

static bk_status limb_new(ph_limb_truth *t, size_t n, bk_arena *arena, bk_err *err)
{
    double **columns[] = {&t->position_mm, &t->space_mm, &t->x_px,         &t->y_px,
                          &t->width_mm,    &t->area_mm,  &t->reference_mm, &t->mm_per_px};
    t->n = n;
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        *columns[i] = BK_NEW(arena, n, double, err);
        if (!*columns[i])
            return err->status;
    }
    return BK_OK;
}

static void sample_limb(const ph_scene *scene, const ph_carm *carm, int limb, ph_limb_truth *t)
{
    for (size_t i = 0; i < t->n; i++) {
        const double s = fmin((double)i * PH_TUBE_STEP_MM, scene->limb[limb].click_mm);
        const ph_tube_node node = ph_scene_section(scene, limb, s);
        const ph_vec centre = ph_scene_centre(scene, limb, s);
        const ph_px p = ph_carm_project(carm, centre);
        t->space_mm[i] = s;
        t->x_px[i] = p.x;
        t->y_px[i] = p.y;
        t->mm_per_px[i] = ph_carm_mm_per_px(carm, centre);
        t->width_mm[i] = ph_tube_width_mm(&node, ph_vec_unit(ph_vec_sub(centre, carm->source)));
        t->area_mm[i] = 2 * node.radius_mm;
        t->reference_mm[i] = ph_scene_reference_mm(scene, limb, s);
        if (i > 0) {
            const double step = hypot(p.x - t->x_px[i - 1], p.y - t->y_px[i - 1]);
            t->position_mm[i] = t->position_mm[i - 1] + step * 0.5 * (t->mm_per_px[i] + t->mm_per_px[i - 1]);
            t->length_space_mm +=
                ph_vec_length(ph_vec_sub(centre, ph_scene_centre(scene, limb, t->space_mm[i - 1])));
        }
    }
    t->length_mm = t->position_mm[t->n - 1];
    t->foreshortening_pct = 100 * (1 - t->length_mm / t->length_space_mm);
}

static double lookup(const ph_limb_truth *t, const double *key, double wanted, const double *column)
{
    size_t i = 1;
    while (i + 1 < t->n && key[i] < wanted)
        i++;
    const double a = key[i - 1], b = key[i];
    const double f = b > a ? (wanted - a) / (b - a) : 0;
    return column[i - 1] + fmin(fmax(f, 0), 1) * (column[i] - column[i - 1]);
}

static double value_at(const ph_limb_truth *t, const double *column, double position_mm)
{
    return lookup(t, t->position_mm, position_mm, column);
}

/* The last place where the axis is inside the core; the branch itself when a narrow fork's core lies beyond
 * it. */
static void find_ostium(const ph_core *core, double mm_per_px, ph_limb_truth *t)
{
    double before = 0;
    for (size_t i = 0; i < t->n && t->position_mm[i] < NEAR_BRANCH_MM; i++) {
        const double away = hypot(t->x_px[i] - core->centre_px.x, t->y_px[i] - core->centre_px.y);
        const double now = mm_per_px * away - core->radius_mm;
        if (now > 0 && before < 0) {
            const double step = t->position_mm[i] - t->position_mm[i - 1];
            t->ostium_mm = t->position_mm[i - 1] + step * before / (before - now);
        }
        before = now;
    }
    t->ostial_mm = value_at(t, t->width_mm, t->ostium_mm);
}

/* Least mean of a column over MEAN_MM of position, from the ostium to the click; the middle of the stretch.
 */
static double least_mean(const ph_limb_truth *t, const double *column, double *at_mm)
{
    double best = INFINITY;
    for (size_t i = 0; i < t->n; i++) {
        const double from = t->position_mm[i];
        if (from < t->ostium_mm)
            continue;
        const double to = from + MEAN_MM;
        if (to > t->length_mm)
            break;
        double area = 0;
        size_t j = i + 1;
        for (; t->position_mm[j] < to; j++)
            area += 0.5 * (column[j] + column[j - 1]) * (t->position_mm[j] - t->position_mm[j - 1]);
        area += 0.5 * (value_at(t, column, to) + column[j - 1]) * (to - t->position_mm[j - 1]);
        if (area / MEAN_MM < best) {
            best = area / MEAN_MM;
            *at_mm = from + 0.5 * MEAN_MM;
        }
    }
    return best;
}

static void find_lesion(ph_limb_truth *t)
{
    t->lesion_mm[0] = t->lesion_mm[1] = NAN;
    if (t->mld_mm >= LESION_SHARE * t->mld_reference_mm)
        return;
    size_t middle = 0;
    while (t->position_mm[middle] < t->mld_at_mm)
        middle++;
    size_t a = middle, b = middle;
    while (a > 0 && t->position_mm[a - 1] >= t->ostium_mm &&
           t->width_mm[a - 1] < LESION_SHARE * t->reference_mm[a - 1])
        a--;
    while (b + 1 < t->n && t->width_mm[b + 1] < LESION_SHARE * t->reference_mm[b + 1])
        b++;
    t->lesion_mm[0] = t->position_mm[a];
    t->lesion_mm[1] = t->position_mm[b];
}

static void find_least(ph_limb_truth *t)
{
    double area_at = 0;
    t->mld_mm = least_mean(t, t->width_mm, &t->mld_at_mm);
    t->mld_reference_mm = value_at(t, t->reference_mm, t->mld_at_mm);
    t->mld_mm_per_px = value_at(t, t->mm_per_px, t->mld_at_mm);
    t->area_mld_mm = least_mean(t, t->area_mm, &area_at);
    t->area_reference_mm = value_at(t, t->reference_mm, area_at);
    find_lesion(t);
}

int ph_truth_medina(const ph_limb_truth *limb)
{
    return ph_truth_stenosis_pct(limb->area_mld_mm, limb->area_reference_mm) >= 50;
}

/* Every lesion has its throat outside the core, and the limbs have the Medina digits that were asked for. */
bool ph_truth_is_as_made(const ph_scene *scene, const ph_view_truth *truth)
{
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        const ph_lesion *lesion = &scene->limb[i].lesion;
        const ph_limb_truth *t = &truth->limb[i];
        if (lesion->present &&
            lookup(t, t->space_mm, lesion->throat_mm, t->position_mm) < t->ostium_mm + 0.5 * MEAN_MM)
            return false;
        if (ph_truth_medina(t) != scene->options.medina[i])
            return false;
    }
    return true;
}

static ph_vec chord(const ph_view_truth *v, int limb)
{
    const ph_limb_truth *t = &v->limb[limb];
    return (ph_vec){value_at(t, t->x_px, CHORD_MM) - v->branch_px.x,
                    value_at(t, t->y_px, CHORD_MM) - v->branch_px.y, 0};
}

static ph_px point_at(const ph_limb_truth *t, double position_mm)
{
    return (ph_px){value_at(t, t->x_px, position_mm), value_at(t, t->y_px, position_mm)};
}

bk_status ph_truth_of_view(const ph_scene *scene, int view, bk_arena *arena, ph_view_truth *out, bk_err *err)
{
    const ph_carm carm = ph_scene_carm(scene, view, ph_scene_best(scene));
    const ph_bundle lumen = ph_scene_lumen(scene, false), healthy = ph_scene_lumen(scene, true);
    *out = (ph_view_truth){.branch_px = ph_carm_project(&carm, scene->branch),
                           .mm_per_px = ph_carm_mm_per_px(&carm, scene->branch),
                           .mm_per_px_isocentre = carm.spacing_mm * carm.sod_mm / carm.sid_mm,
                           .core = ph_outline_core(&lumen, &carm, scene->branch),
                           .healthy_core = ph_outline_core(&healthy, &carm, scene->branch)};
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        ph_limb_truth *t = &out->limb[i];
        const size_t n = (size_t)ceil(scene->limb[i].click_mm / PH_TUBE_STEP_MM - 1e-9) + 1;
        if (limb_new(t, n, arena, err) != BK_OK)
            return err->status;
        sample_limb(scene, &carm, i, t);
        find_ostium(&out->core, out->mm_per_px, t);
        find_least(t);
    }
    const ph_vec p = chord(out, BK_PHANTOM_PROXIMAL), d = chord(out, BK_PHANTOM_DISTAL),
                 s = chord(out, BK_PHANTOM_SIDE);
    out->distal_side_deg = ph_vec_angle_deg(d, s);
    out->proximal_side_deg = ph_vec_angle_deg(p, s);
    out->proximal_distal_deg = ph_vec_angle_deg(p, d);
    out->carina_px =
        ph_outline_carina(&lumen, &carm, scene->branch, point_at(&out->limb[BK_PHANTOM_DISTAL], 6),
                          point_at(&out->limb[BK_PHANTOM_SIDE], 6));
    return BK_OK;
}
