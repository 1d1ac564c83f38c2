/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/corrections.h"

#include <math.h>
#include <string.h>

#include "base/order.h"

#define FAR_DIAMETERS 2.0

bk_status bk_corrections_blame(const bk_corrections *c)
{
    return c->blame == BK_OK ? BK_E_USAGE : c->blame;
}

/* ---- checks ---- */

typedef struct checker {
    const bk_corrections *c;
    int32_t rows, cols;
    bk_err *err;
} checker;

static bk_status check_limb(const checker *k, const char *what, int limb)
{
    return limb >= 1 && limb <= BK_LIMBS
               ? BK_OK
               : bk_fail(k->err, bk_corrections_blame(k->c), "%s: no limb was found, proximal, distal or side was expected", what);
}

static bk_status check_point(const checker *k, const char *what, int limb, double x, double y)
{
    if (x >= 0 && y >= 0 && x <= k->cols - 1 && y <= k->rows - 1)
        return BK_OK;
    return bk_fail(k->err, bk_corrections_blame(k->c), "%s: a point of the %s limb at %.1f,%.1f was found, inside 0..%d,0..%d was expected",
                   what, bk_limb_name(limb - 1), x, y, k->cols - 1, k->rows - 1);
}

static bk_status check_via(const checker *k)
{
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < k->c->via.n; i++) {
        const bk_way_point *v = &BK_ITEMS(k->c->via, bk_way_point)[i];
        status = check_limb(k, "via", v->limb);
        if (status == BK_OK)
            status = check_point(k, "via", v->limb, v->x_px, v->y_px);
    }
    for (int limb = 0; status == BK_OK && limb < BK_LIMBS; limb++)
        if (bk_corrections_via(k->c, limb, NULL, 0) > BK_VIA_MAX)
            status = bk_fail(k->err, bk_corrections_blame(k->c), "via: more than %d way-points of the %s limb were found", BK_VIA_MAX,
                             bk_limb_name(limb));
    return status;
}

static bk_status check_edge(const checker *k, const bk_drawn_edge *e)
{
    bk_status status = check_limb(k, "edge", e->limb);
    if (status == BK_OK && e->side != BK_EDGE_LEFT && e->side != BK_EDGE_RIGHT)
        status = bk_fail(k->err, bk_corrections_blame(k->c), "edge: no side was found, left or right was expected");
    if (status == BK_OK && (e->x_px.n != e->y_px.n || e->x_px.n < 2))
        status = bk_fail(k->err, bk_corrections_blame(k->c),
                         "edge: %zu x and %zu y of the %s limb were found, as many of both and two or more were expected",
                         e->x_px.n, e->y_px.n, bk_limb_name(e->limb - 1));
    for (size_t i = 0; status == BK_OK && i < e->x_px.n; i++)
        status = check_point(k, "edge", e->limb, BK_ITEMS(e->x_px, double)[i], BK_ITEMS(e->y_px, double)[i]);
    return status;
}

static bk_status check_exclusion(const checker *k, const bk_exclusion *x)
{
    const bk_status status = check_limb(k, "exclude", x->limb);
    if (status != BK_OK || x->from_mm < x->to_mm)
        return status;
    return bk_fail(k->err, bk_corrections_blame(k->c), "exclude: %g to %g mm of the %s limb was found, from below to was expected",
                   x->from_mm, x->to_mm, bk_limb_name(x->limb - 1));
}

static bk_status check_reference(const checker *k, size_t i)
{
    const bk_forced_reference *list = BK_ITEMS(k->c->reference, bk_forced_reference), *r = &list[i];
    bk_status status = check_limb(k, "reference", r->limb);
    if (status == BK_OK && !(bk_has(r->reference_mm) && r->reference_mm.value > 0))
        status = bk_fail(k->err, bk_corrections_blame(k->c), "reference: no diameter above 0 was found for the %s limb, one was expected",
                         bk_limb_name(r->limb - 1));
    for (size_t j = 0; status == BK_OK && j < i; j++)
        if (list[j].limb == r->limb)
            status = bk_fail(k->err, bk_corrections_blame(k->c), "reference: two were found for the %s limb, one was expected",
                             bk_limb_name(r->limb - 1));
    return status;
}

static bk_status check_swap(const checker *k, const bk_swap *s)
{
    bk_status status = check_limb(k, "swap", s->limb);
    if (status == BK_OK)
        status = check_limb(k, "swap", s->with);
    if (status == BK_OK && s->limb == s->with)
        status = bk_fail(k->err, bk_corrections_blame(k->c), "swap: %s with itself was found, two limbs were expected",
                         bk_limb_name(s->limb - 1));
    return status;
}

bk_status bk_corrections_check(const bk_corrections *c, int32_t rows, int32_t cols, bk_err *err)
{
    const checker k = {c, rows, cols, err};
    bk_status status = check_via(&k);
    for (size_t i = 0; status == BK_OK && i < c->edge.n; i++)
        status = check_edge(&k, &BK_ITEMS(c->edge, bk_drawn_edge)[i]);
    for (size_t i = 0; status == BK_OK && i < c->exclude.n; i++)
        status = check_exclusion(&k, &BK_ITEMS(c->exclude, bk_exclusion)[i]);
    for (size_t i = 0; status == BK_OK && i < c->reference.n; i++)
        status = check_reference(&k, i);
    for (size_t i = 0; status == BK_OK && i < c->swap.n; i++)
        status = check_swap(&k, &BK_ITEMS(c->swap, bk_swap)[i]);
    return status;
}

/* ---- look-ups ---- */

void bk_corrections_swap(const bk_corrections *c, bk_pt_px click[BK_LIMBS])
{
    for (size_t i = 0; i < c->swap.n; i++) {
        const bk_swap s = BK_ITEMS(c->swap, bk_swap)[i];
        const bk_pt_px keep = click[s.limb - 1];
        click[s.limb - 1] = click[s.with - 1];
        click[s.with - 1] = keep;
    }
}

static bk_status move_reals(const bk_list *from, double by, bk_arena *arena, bk_list *to, bk_err *err)
{
    double *room = BK_NEW(arena, from->n, double, err);
    if (!room)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < from->n; i++)
        room[i] = BK_ITEMS(*from, double)[i] + by;
    *to = (bk_list){.items = room, .n = from->n};
    return BK_OK;
}

bk_status bk_corrections_move(const bk_corrections *c, double dx, double dy, bk_arena *arena, bk_corrections *out,
                              bk_err *err)
{
    *out = *c;
    bk_way_point *via = BK_NEW(arena, c->via.n, bk_way_point, err);
    bk_drawn_edge *edge = BK_NEW(arena, c->edge.n, bk_drawn_edge, err);
    if (!via || !edge)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < c->via.n; i++) {
        const bk_way_point v = BK_ITEMS(c->via, bk_way_point)[i];
        via[i] = (bk_way_point){v.limb, v.x_px + dx, v.y_px + dy};
    }
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < c->edge.n; i++) {
        const bk_drawn_edge *e = &BK_ITEMS(c->edge, bk_drawn_edge)[i];
        edge[i] = *e;
        status = move_reals(&e->x_px, dx, arena, &edge[i].x_px, err);
        if (status == BK_OK)
            status = move_reals(&e->y_px, dy, arena, &edge[i].y_px, err);
    }
    out->via = (bk_list){.items = via, .n = c->via.n};
    out->edge = (bk_list){.items = edge, .n = c->edge.n};
    return status;
}

size_t bk_corrections_via(const bk_corrections *c, int limb, bk_pt_px *out, size_t most)
{
    size_t n = 0;
    for (size_t i = 0; c && i < c->via.n; i++) {
        const bk_way_point v = BK_ITEMS(c->via, bk_way_point)[i];
        if (v.limb != limb + 1)
            continue;
        if (n < most)
            out[n] = (bk_pt_px){v.x_px, v.y_px};
        n++;
    }
    return n;
}

bool bk_corrections_excluded(const bk_corrections *c, int limb, double position_mm)
{
    for (size_t i = 0; c && i < c->exclude.n; i++) {
        const bk_exclusion x = BK_ITEMS(c->exclude, bk_exclusion)[i];
        if (x.limb == limb + 1 && position_mm >= x.from_mm && position_mm <= x.to_mm)
            return true;
    }
    return false;
}

bool bk_corrections_draws(const bk_corrections *c, int limb)
{
    for (size_t i = 0; c && i < c->edge.n; i++)
        if (BK_ITEMS(c->edge, bk_drawn_edge)[i].limb == limb + 1)
            return true;
    return false;
}

bk_qty bk_corrections_reference(const bk_corrections *c, int limb)
{
    for (size_t i = 0; c && i < c->reference.n; i++)
        if (BK_ITEMS(c->reference, bk_forced_reference)[i].limb == limb + 1)
            return BK_ITEMS(c->reference, bk_forced_reference)[i].reference_mm;
    return bk_qty_absent();
}

/* ---- drawn edges ---- */

/* One limb while edges are drawn over it; offsets along the scan line from the fitted axis, left positive. */
typedef struct drawing {
    const bk_corrections *c;
    int limb_index;
    bk_lumen_limb *limb;
    double *offset[2]; /* of the drawn left and right edge; NaN where none was drawn */
    double typical_px; /* median diameter */
    double edge_sd_px;
} drawing;

static bk_pt_px corner(const bk_drawn_edge *e, size_t i)
{
    return (bk_pt_px){BK_ITEMS(e->x_px, double)[i], BK_ITEMS(e->y_px, double)[i]};
}

static double distance(bk_pt_px a, bk_pt_px b)
{
    return hypot(a.x - b.x, a.y - b.y);
}

/* How far a corner may lie from the axis: two diameters there, or of the limb where the fit reads it too thin. */
static bk_status check_near(const drawing *d, const bk_drawn_edge *e, bk_err *err)
{
    for (size_t i = 0; i < e->x_px.n; i++) {
        const bk_pt_px p = corner(e, i);
        double least = INFINITY, diameter = 0;
        for (size_t k = 0; k < d->limb->n; k++) {
            const double away = distance(p, d->limb->axis[k]);
            if (away < least) {
                least = away;
                diameter = d->limb->diameter_px[k];
            }
        }
        const double most = FAR_DIAMETERS * fmax(diameter, d->typical_px);
        if (least > most)
            return bk_fail(err, bk_corrections_blame(d->c),
                           "edge: a corner at %.1f,%.1f lies %.0f px from the axis of the %s limb, at most %.0f px was expected",
                           p.x, p.y, least, bk_limb_name(d->limb_index), most);
    }
    return BK_OK;
}

/* Crossing of a polyline with the scan line of a sample that lies nearest to the axis; NaN when there is none. */
static double crossing(const drawing *d, const bk_drawn_edge *e, size_t k)
{
    const bk_pt_px o = d->limb->axis[k], n = d->limb->normal[k];
    const double reach = FAR_DIAMETERS * fmax(d->limb->diameter_px[k], d->typical_px);
    double best = NAN;
    for (size_t i = 0; i + 1 < e->x_px.n; i++) {
        const bk_pt_px a = corner(e, i), b = corner(e, i + 1);
        /* signed distances of both ends from the scan line */
        const double da = (a.x - o.x) * -n.y + (a.y - o.y) * n.x, db = (b.x - o.x) * -n.y + (b.y - o.y) * n.x;
        if (da == db || da * db > 0)
            continue;
        const double t = da / (da - db);
        const double at = (a.x + t * (b.x - a.x) - o.x) * n.x + (a.y + t * (b.y - a.y) - o.y) * n.y;
        if (fabs(at) <= reach && !(fabs(at) >= fabs(best)))
            best = at;
    }
    return best;
}

static bk_status draw_edge(const drawing *d, const bk_drawn_edge *e, bk_err *err)
{
    const bk_status status = check_near(d, e, err);
    if (status != BK_OK)
        return status;
    double *offset = d->offset[e->side == BK_EDGE_RIGHT];
    size_t hits = 0;
    for (size_t k = 0; k < d->limb->n; k++) {
        const double at = crossing(d, e, k);
        if (isnan(at))
            continue;
        offset[k] = at;
        hits++;
    }
    return hits ? BK_OK
                : bk_fail(err, bk_corrections_blame(d->c), "edge: the polyline runs along no part of the %s limb, a stretch of it was expected",
                          bk_limb_name(d->limb_index));
}

static bk_status apply(const drawing *d, bool *drawn, bk_err *err)
{
    bk_lumen_limb *limb = d->limb;
    for (size_t k = 0; k < limb->n; k++) {
        const bool left = !isnan(d->offset[0][k]), right = !isnan(d->offset[1][k]);
        if (!left && !right)
            continue;
        const double half = 0.5 * limb->diameter_px[k], fitted = limb->sd_px[k] * limb->sd_px[k] / 2;
        const double l = left ? d->offset[0][k] : half, r = right ? d->offset[1][k] : -half;
        const double by_hand = d->edge_sd_px * d->edge_sd_px;
        if (!(l > r))
            return bk_fail(err, bk_corrections_blame(d->c),
                           "edge: the drawn %s edge of the %s limb crosses the other edge near %.0f,%.0f, beside it was expected",
                           left ? "left" : "right", bk_limb_name(d->limb_index), limb->axis[k].x, limb->axis[k].y);
        const double middle = 0.5 * (l + r);
        limb->axis[k].x += middle * limb->normal[k].x;
        limb->axis[k].y += middle * limb->normal[k].y;
        limb->diameter_px[k] = l - r;
        limb->sd_px[k] = sqrt((left ? by_hand : fitted) + (right ? by_hand : fitted));
        drawn[k] = true;
    }
    return BK_OK;
}

/* The lists of a fit may be shared with it: the changed ones are copies. */
static bk_status own_lists(bk_lumen_limb *limb, bk_arena *arena, bk_err *err)
{
    bk_pt_px *axis = BK_NEW(arena, limb->n, bk_pt_px, err);
    double *diameter = BK_NEW(arena, limb->n, double, err), *sd = BK_NEW(arena, limb->n, double, err);
    if (!axis || !diameter || !sd)
        return err ? err->status : BK_E_LIMIT;
    memcpy(axis, limb->axis, limb->n * sizeof *axis);
    memcpy(diameter, limb->diameter_px, limb->n * sizeof *diameter);
    memcpy(sd, limb->sd_px, limb->n * sizeof *sd);
    limb->axis = axis;
    limb->diameter_px = diameter;
    limb->sd_px = sd;
    return BK_OK;
}

static bk_status prepare(drawing *d, bk_arena *arena, bk_err *err)
{
    const size_t n = d->limb->n;
    double *copy = BK_NEW(arena, n, double, err);
    for (int side = 0; side < 2; side++)
        d->offset[side] = BK_NEW(arena, n, double, err);
    if (!copy || !d->offset[0] || !d->offset[1])
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < n; k++)
        d->offset[0][k] = d->offset[1][k] = NAN;
    memcpy(copy, d->limb->diameter_px, n * sizeof *copy);
    d->typical_px = bk_median(copy, n);
    return own_lists(d->limb, arena, err);
}

bk_status bk_corrections_draw(const bk_corrections *c, int limb_index, bk_lumen_limb *limb,
                              const bk_evidence_set *evidence, bk_arena *arena, bool **drawn, bk_err *err)
{
    drawing d = {.c = c, .limb_index = limb_index, .limb = limb};
    bk_status status = BK_OK;
    *drawn = NULL;
    for (size_t i = 0; c && status == BK_OK && i < c->edge.n; i++) {
        const bk_drawn_edge *e = &BK_ITEMS(c->edge, bk_drawn_edge)[i];
        if (e->limb != limb_index + 1)
            continue;
        if (!d.offset[0]) {
            d.edge_sd_px = bk_evidence_value(evidence, BK_EVIDENCE("drawn_edge_sd"));
            status = prepare(&d, arena, err);
        }
        if (status == BK_OK)
            status = draw_edge(&d, e, err);
    }
    if (status != BK_OK || !d.offset[0])
        return status;
    *drawn = BK_NEW(arena, limb->n, bool, err);
    return *drawn ? apply(&d, *drawn, err) : err ? err->status : BK_E_LIMIT;
}
