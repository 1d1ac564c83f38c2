/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/views.h"

#include "core/anatomy/space/carm.h"
#include "core/anatomy/space/valleys.h"
#include "core/anatomy/space/view_judge.h"

#define RIDGE 0.01       /* a valley: a point of loss must be climbed to leave it */
#define WORTH 0.10       /* loss that another valley may cost over going just far enough in the same one */
#define AROUND_DEG 6.0   /* first step of the search around the whole patient */
#define MARGIN_DEG 20.0  /* of the map beyond the reach */
#define VALLEYS_MAX 64

typedef struct search {
    const bk_views_input *in;
    bk_look_scene *scene;
    bk_branch_axes axes;
} search;

static bk_status check_range(const char *name, const double range[2], double limit, bk_err *err)
{
    if (!(range[0] >= -limit && range[1] <= limit && range[0] < range[1]))
        return bk_fail(err, BK_E_USAGE, "%s limits %g to %g degrees were found, a lower one first, within %g to %g, were expected", name,
                       range[0], range[1], -limit, limit);
    return BK_OK;
}

bk_status bk_views_check_reach(const double primary_deg[2], const double secondary_deg[2], bk_err *err)
{
    const bk_status status = check_range("primary", primary_deg, 180, err);
    return status == BK_OK ? check_range("secondary", secondary_deg, 90, err) : status;
}

static bk_status start(const bk_views_input *in, bk_arena *arena, search *out, bk_err *err)
{
    bk_status status = bk_views_check_reach(in->primary_deg, in->secondary_deg, err);
    if (status != BK_OK)
        return status;
    *out = (search){.in = in, .scene = BK_NEW_RAW(arena, 1, bk_look_scene, err)};
    if (!out->scene)
        return err->status;
    status = bk_look_prepare(in->limb, in->sod_mm, out->scene, err);
    if (status == BK_OK)
        out->axes = bk_branch_axes_of(out->scene->chord);
    return status;
}

static bool in_reach(const bk_views_input *in, double primary_deg, double secondary_deg)
{
    return primary_deg >= in->primary_deg[0] && primary_deg <= in->primary_deg[1] && secondary_deg >= in->secondary_deg[0] &&
           secondary_deg <= in->secondary_deg[1];
}

static double loss_at(const search *s, int purpose, double primary_deg, double secondary_deg)
{
    bk_look look;
    bk_look_at(s->scene, primary_deg, secondary_deg, &look);
    return bk_view_loss(s->scene, &s->axes, &look, purpose, s->in->overlap_weight);
}

static bk_view view_at(const search *s, int purpose, double primary_deg, double secondary_deg)
{
    bk_view out;
    bk_view_describe(s->scene, s->in, purpose, primary_deg, secondary_deg, &out);
    out.reachable = in_reach(s->in, primary_deg, secondary_deg);
    return out;
}

/* ---- the reach ---- */

typedef struct field {
    int rows, cols;
    float *loss[BK_PURPOSES];
} field;

static bk_status sweep(const search *s, bk_arena *arena, field *out, bk_err *err)
{
    const bk_views_input *in = s->in;
    out->rows = (int)floor((in->secondary_deg[1] - in->secondary_deg[0]) / BK_VIEWS_STEP_DEG) + 1;
    out->cols = (int)floor((in->primary_deg[1] - in->primary_deg[0]) / BK_VIEWS_STEP_DEG) + 1;
    for (int p = 0; p < BK_PURPOSES; p++)
        if (!(out->loss[p] = BK_NEW_RAW(arena, out->rows * out->cols, float, err)))
            return err->status;
    bk_look look;
    for (int r = 0; r < out->rows; r++)
        for (int c = 0; c < out->cols; c++) {
            bk_look_at(s->scene, in->primary_deg[0] + c * BK_VIEWS_STEP_DEG, in->secondary_deg[0] + r * BK_VIEWS_STEP_DEG, &look);
            for (int p = 0; p < BK_PURPOSES; p++)
                out->loss[p][r * out->cols + c] = (float)bk_view_loss(s->scene, &s->axes, &look, p, in->overlap_weight);
        }
    return BK_OK;
}

static double apart_deg(const bk_view *a, double primary_deg, double secondary_deg)
{
    return bk_vec_angle_deg(bk_carm_beam(a->primary_deg, a->secondary_deg), bk_carm_beam(primary_deg, secondary_deg));
}

static void cell_place(const search *s, const field *f, int at, double *primary_deg, double *secondary_deg)
{
    *primary_deg = s->in->primary_deg[0] + at % f->cols * BK_VIEWS_STEP_DEG;
    *secondary_deg = s->in->secondary_deg[0] + at / f->cols * BK_VIEWS_STEP_DEG;
}

/* Take a cell for the list when it lies far enough from those on it. */
static bool is_another(const search *s, const field *f, int at, const bk_views_purpose *have)
{
    double primary, secondary;
    cell_place(s, f, at, &primary, &secondary);
    for (int k = 0; k < have->n; k++)
        if (apart_deg(&have->best[k], primary, secondary) < s->in->apart_deg)
            return false;
    return true;
}

static void take(const search *s, const field *f, int purpose, int at, bool another_valley, bk_views_purpose *out)
{
    double primary, secondary;
    cell_place(s, f, at, &primary, &secondary);
    out->best[out->n] = view_at(s, purpose, primary, secondary);
    out->best[out->n++].another_valley = another_valley;
}

/* The cell of least loss among those far enough from the views taken; -1: none. */
static int least_far(const search *s, const field *f, int purpose, const bk_views_purpose *have)
{
    int best = -1;
    for (int at = 0; at < f->rows * f->cols; at++)
        if ((best < 0 || f->loss[purpose][at] < f->loss[purpose][best]) && is_another(s, f, at, have))
            best = at;
    return best;
}

static bk_status best_views(const search *s, const field *f, int purpose, bk_arena *arena, bk_views_purpose *out, bk_err *err)
{
    const float *loss = f->loss[purpose];
    int bottom[VALLEYS_MAX], n;
    const bk_status status = bk_valleys(loss, f->rows, f->cols, RIDGE, arena, bottom, VALLEYS_MAX, &n, err);
    if (status != BK_OK)
        return status;
    out->n = 0;
    take(s, f, purpose, bottom[0], true, out);
    const int flank = least_far(s, f, purpose, out);
    for (int i = 1; i < n && out->n < s->in->top; i++)
        if (is_another(s, f, bottom[i], out) && (double)(loss[bottom[i]] - loss[flank]) <= WORTH)
            take(s, f, purpose, bottom[i], true, out);
    if (out->n < 2 && s->in->top > 1 && flank >= 0)
        take(s, f, purpose, flank, false, out);
    return BK_OK;
}

/* ---- all around the patient ---- */

typedef struct place {
    double primary_deg, secondary_deg, loss;
} place;

/* The same position with the primary angle in -180..180. */
static place place_at(const search *s, int purpose, double primary_deg, double secondary_deg)
{
    const double primary = remainder(primary_deg, 360), secondary = fmin(fmax(secondary_deg, -90), 90);
    return (place){primary, secondary, loss_at(s, purpose, primary, secondary)};
}

static place downhill(const search *s, int purpose, place from)
{
    for (;;) {
        place best = from;
        for (int i = 0; i < 9; i++) {
            const place next = place_at(s, purpose, from.primary_deg + i % 3 - 1, from.secondary_deg + i / 3 - 1);
            if (next.loss < best.loss - 1e-6)
                best = next;
        }
        if (best.loss >= from.loss)
            return from;
        from = best;
    }
}

static double beyond_deg(const bk_views_input *in, place p)
{
    const double by_primary = fmax(in->primary_deg[0] - p.primary_deg, p.primary_deg - in->primary_deg[1]);
    const double by_secondary = fmax(in->secondary_deg[0] - p.secondary_deg, p.secondary_deg - in->secondary_deg[1]);
    return fmax(fmax(by_primary, by_secondary), 0);
}

/* The best place anywhere; of it and the one opposite, which shows nearly the same, the nearer to the reach. */
static void optima(const search *s, bk_views *out)
{
    place best[BK_PURPOSES];
    for (int p = 0; p < BK_PURPOSES; p++)
        best[p] = (place){0, 0, INFINITY};
    bk_look look;
    for (double secondary = -90; secondary <= 90; secondary += AROUND_DEG)
        for (double primary = -180; primary < 180; primary += AROUND_DEG) {
            bk_look_at(s->scene, primary, secondary, &look);
            for (int p = 0; p < BK_PURPOSES; p++) {
                const double loss = bk_view_loss(s->scene, &s->axes, &look, p, s->in->overlap_weight);
                if (loss < best[p].loss)
                    best[p] = (place){primary, secondary, loss};
            }
        }
    for (int p = 0; p < BK_PURPOSES; p++) {
        const place one = downhill(s, p, best[p]);
        const place other = downhill(s, p, place_at(s, p, one.primary_deg + 180, -one.secondary_deg));
        const bool same = fabs(other.loss - one.loss) < RIDGE;
        const bool take_other = same ? beyond_deg(s->in, other) < beyond_deg(s->in, one) : other.loss < one.loss;
        const place chosen = take_other ? other : one;
        bk_views_purpose *to = &out->purpose[p];
        to->optimum = view_at(s, p, chosen.primary_deg, chosen.secondary_deg);
        to->optimum_in_reach = to->best[0].loss - chosen.loss < RIDGE;
        if (to->optimum_in_reach)
            to->optimum = to->best[0];
    }
}

/* ---- the map ---- */

static void map_range(const double reach[2], double limit, double *from, int *n)
{
    const double step = BK_VIEWS_MAP_STEP_DEG;
    *from = step * ceil(fmax(reach[0] - MARGIN_DEG, -limit) / step);
    *n = (int)floor((fmin(reach[1] + MARGIN_DEG, limit) - *from) / step) + 1;
}

static bk_status draw_map(const search *s, bk_arena *arena, bk_views_map *map, bk_err *err)
{
    map->step_deg = BK_VIEWS_MAP_STEP_DEG;
    map_range(s->in->primary_deg, 180, &map->primary_from_deg, &map->cols);
    map_range(s->in->secondary_deg, 90, &map->secondary_from_deg, &map->rows);
    float **arrays[] = {&map->foreshortening[0], &map->foreshortening[1], &map->foreshortening[2], &map->overlap[0], &map->overlap[1],
                        &map->overlap[2],        &map->overlap[3],        &map->loss[0],           &map->loss[1],    &map->loss[2],
                        &map->loss[3]};
    for (size_t i = 0; i < sizeof arrays / sizeof arrays[0]; i++)
        if (!(*arrays[i] = BK_NEW_RAW(arena, map->rows * map->cols, float, err)))
            return err->status;
    bk_look look;
    for (int at = 0; at < map->rows * map->cols; at++) {
        bk_look_at(s->scene, map->primary_from_deg + at % map->cols * map->step_deg,
                   map->secondary_from_deg + at / map->cols * map->step_deg, &look);
        for (int i = 0; i < BK_LIMBS; i++)
            map->foreshortening[i][at] = (float)(100 * look.foreshortening[i]);
        for (int p = 0; p < BK_PURPOSES; p++) {
            map->overlap[p][at] = (float)(100 * bk_view_overlap(s->scene, &look, p));
            map->loss[p][at] = (float)(100 * bk_view_loss(s->scene, &s->axes, &look, p, s->in->overlap_weight));
        }
    }
    return BK_OK;
}

bk_status bk_views_search(const bk_views_input *input, bk_arena *arena, bk_views *out, bk_err *err)
{
    search s;
    field f;
    bk_status status = start(input, arena, &s, err);
    if (status == BK_OK)
        status = sweep(&s, arena, &f, err);
    for (int p = 0; status == BK_OK && p < BK_PURPOSES; p++)
        status = best_views(&s, &f, p, arena, &out->purpose[p], err);
    if (status != BK_OK)
        return status;
    optima(&s, out);
    out->distal_side_deg = bk_vec_angle_deg(s.scene->chord[BK_DISTAL], s.scene->chord[BK_SIDE]);
    for (int i = 0; i < BK_LIMBS; i++)
        out->joined_mm[i] = s.scene->limb[i].joined_mm;
    return draw_map(&s, arena, &out->map, err);
}

bk_status bk_views_judge(const bk_views_input *input, int purpose, double primary_deg, double secondary_deg, bk_arena *arena,
                         bk_view *out, bk_err *err)
{
    search s;
    const bk_status status = start(input, arena, &s, err);
    if (status == BK_OK)
        *out = view_at(&s, purpose, primary_deg, secondary_deg);
    return status;
}
