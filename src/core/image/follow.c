/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/follow.h"

#include <math.h>

#include "core/image/follow_inside.h"
#include "core/image/gauss.h"
#include "core/image/linear.h"
#include "core/image/tubes.h"

#define SMOOTH_MM 0.35
#define MARGIN_MM 6.0   /* around the points, for the common movement */
#define STIFFNESS 0.1   /* correlation that 1 mm away from the expected movement must gain, growing with its square */
#define STIFF_ALONG 2.0 /* the same along a straight tube: what changes there is background that stands still */
#define STIFF_COMMON 1e-3

static const double patch_mm[2] = {5.5, 2.5}; /* half sides of the two patches */
static const double reach_mm[2] = {2.5, 1.2}; /* how far each may differ from the movement before it */

/* The part of both frames that is worked on, as tubes. */
typedef struct field {
    bk_image from, to;
    int32_t row0, col0;
    double mm_per_px;
} field;

typedef struct shift {
    double x, y, match;
} shift;

/* What ties a shift to the one expected, in correlation a squared mm; the second part along (ux, uy) only. */
typedef struct tie {
    double all, along, ux, uy;
} tie;

static int32_t clamped(double v, int32_t n)
{
    return v < 0 ? 0 : v > n - 1 ? n - 1 : (int32_t)lround(v);
}

bk_follow_box bk_follow_box_around(const bk_pt_px *points, size_t n, double margin, const bk_image *image)
{
    double left = INFINITY, right = -INFINITY, top = INFINITY, bottom = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        left = fmin(left, points[i].x);
        right = fmax(right, points[i].x);
        top = fmin(top, points[i].y);
        bottom = fmax(bottom, points[i].y);
    }
    return (bk_follow_box){clamped(left - margin, image->cols), clamped(right + margin, image->cols),
                 clamped(top - margin, image->rows), clamped(bottom + margin, image->rows)};
}

bk_status bk_follow_tubes(const bk_image *log_image, const bk_follow_box *part, double mm_per_px, bk_arena *arena, bk_image *out,
                            bk_err *err)
{
    bk_image crop;
    double distance[2];
    bk_tubes_distances(mm_per_px, distance);
    bk_status status = bk_image_crop(log_image, part->top, part->left, part->bottom - part->top + 1,
                                     part->right - part->left + 1, arena, &crop, err);
    if (status == BK_OK)
        status = bk_gauss_blur(&crop, fmin(fmax(SMOOTH_MM / mm_per_px, 0.7), 8), arena, &crop, err);
    if (status == BK_OK)
        status = bk_image_new(crop.rows, crop.cols, arena, out, err);
    if (status != BK_OK)
        return status;
    bk_tubes(&crop, distance, 2, out);
    const size_t n = (size_t)crop.rows * (size_t)crop.cols;
    const float noise = (float)BK_TUBES_NOISE * bk_tubes_median(out, crop.px); /* the crop has served */
    for (size_t i = 0; i < n; i++)
        out->px[i] = fmaxf(out->px[i] - noise, 0);
    return BK_OK;
}

/* Correlation of a box of `from` with the box shifted by (x, y) of `to`; what falls outside `to` is left out. */
static double correlation(const field *f, const bk_follow_box *b, int x, int y)
{
    double n = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
    for (int32_t r = b->top; r <= b->bottom; r++) {
        if (r + y < 0 || r + y >= f->to.rows)
            continue;
        for (int32_t c = b->left; c <= b->right; c++) {
            if (c + x < 0 || c + x >= f->to.cols)
                continue;
            const double va = (double)bk_image_at(&f->from, r, c), vb = (double)bk_image_at(&f->to, r + y, c + x);
            n++;
            sa += va;
            sb += vb;
            saa += va * va;
            sbb += vb * vb;
            sab += va * vb;
        }
    }
    const double va = n * saa - sa * sa, vb = n * sbb - sb * sb;
    return va > 0 && vb > 0 ? (n * sab - sa * sb) / sqrt(va * vb) : -1;
}

static double merit(const field *f, const bk_follow_box *b, int x, int y, const shift *expected, const tie *t)
{
    const double dx = (x - expected->x) * f->mm_per_px, dy = (y - expected->y) * f->mm_per_px;
    const double along = t->ux * dx + t->uy * dy;
    return correlation(f, b, x, y) - t->all * (dx * dx + dy * dy) - t->along * along * along;
}

/* Direction in which a patch changes least, and how clearly, from the sums of its gradients' products. */
static tie tie_of(const field *f, const bk_follow_box *b)
{
    double xx = 0, yy = 0, xy = 0;
    for (int32_t r = b->top + 1; r < b->bottom; r++)
        for (int32_t c = b->left + 1; c < b->right; c++) {
            const double gx = (double)(bk_image_at(&f->from, r, c + 1) - bk_image_at(&f->from, r, c - 1));
            const double gy = (double)(bk_image_at(&f->from, r + 1, c) - bk_image_at(&f->from, r - 1, c));
            xx += gx * gx;
            yy += gy * gy;
            xy += gx * gy;
        }
    const double gap = hypot(xx - yy, 2 * xy), across = 0.5 * atan2(2 * xy, xx - yy);
    const double clear = xx + yy > 0 ? gap / (xx + yy) : 0;
    return (tie){STIFFNESS, STIFF_ALONG * clear * clear, -sin(across), cos(across)};
}

/* Maximum of the parabola through three equally spaced values, within half a step. */
static double parabola(double before, double here, double after)
{
    const double bend = before - 2 * here + after;
    return bend < 0 ? fmax(-0.5, fmin(0.5, 0.5 * (before - after) / bend)) : 0;
}

/* The best shift within reach of the expected one. */
static shift find_shift(const field *f, const bk_follow_box *b, const shift *expected, const tie *t, double reach_px)
{
    const int x0 = (int)lround(expected->x), y0 = (int)lround(expected->y), reach = (int)ceil(reach_px);
    int x = x0, y = y0;
    double best = -INFINITY;
    for (int j = y0 - reach; j <= y0 + reach; j++)
        for (int i = x0 - reach; i <= x0 + reach; i++) {
            const double v = merit(f, b, i, j, expected, t);
            if (v > best) {
                best = v;
                x = i;
                y = j;
            }
        }
    return (shift){x + parabola(merit(f, b, x - 1, y, expected, t), best, merit(f, b, x + 1, y, expected, t)),
                   y + parabola(merit(f, b, x, y - 1, expected, t), best, merit(f, b, x, y + 1, expected, t)),
                   correlation(f, b, x, y)};
}

/* Movement common to all points: first on halved images, for it reaches far. */
static bk_status common_movement(const field *f, const bk_pt_px *points, size_t n, bk_arena *arena, shift *out, bk_err *err)
{
    field now = *f;
    double size = 1;
    while (BK_FOLLOW_REACH_MM / now.mm_per_px > 12 && now.from.rows > 32 && now.from.cols > 32) {
        const field larger = now;
        if (bk_image_halve(&larger.from, arena, &now.from, err) != BK_OK || bk_image_halve(&larger.to, arena, &now.to, err) != BK_OK)
            return err ? err->status : BK_E_LIMIT;
        now.mm_per_px *= 2;
        size *= 2;
    }
    bk_pt_px *scaled = BK_NEW(arena, n, bk_pt_px, err);
    if (!scaled)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        scaled[i] = (bk_pt_px){(points[i].x + 0.5) / size - 0.5, (points[i].y + 0.5) / size - 0.5};
    const bk_follow_box b = bk_follow_box_around(scaled, n, MARGIN_MM / now.mm_per_px, &now.from);
    const shift none = {0};
    const tie loose = {STIFF_COMMON, 0, 0, 0};
    const shift rough = find_shift(&now, &b, &none, &loose, BK_FOLLOW_REACH_MM / now.mm_per_px);
    const shift expected = {rough.x * size, rough.y * size, rough.match};
    const bk_follow_box whole = bk_follow_box_around(points, n, MARGIN_MM / f->mm_per_px, &f->from);
    *out = find_shift(f, &whole, &expected, &loose, 0.5 * size);
    return BK_OK;
}

/* How much of the tube around a point is still there, in parts of what was. */
static double strength_left(const field *f, const bk_follow_box *b, int x, int y)
{
    double before = 0, after = 0;
    for (int32_t r = b->top; r <= b->bottom; r++)
        for (int32_t c = b->left; c <= b->right; c++) {
            before += (double)bk_image_at(&f->from, r, c);
            if (r + y >= 0 && r + y < f->to.rows && c + x >= 0 && c + x < f->to.cols)
                after += (double)bk_image_at(&f->to, r + y, c + x);
        }
    return before > 0 ? after / before : 0;
}

static bk_followed follow_one(const field *f, bk_pt_px point, shift expected)
{
    bk_follow_box b = {0};
    for (int level = 0; level < 2; level++) {
        b = bk_follow_box_around(&point, 1, patch_mm[level] / f->mm_per_px, &f->from);
        const tie t = tie_of(f, &b);
        expected = find_shift(f, &b, &expected, &t, reach_mm[level] / f->mm_per_px);
    }
    return (bk_followed){{point.x + expected.x + f->col0, point.y + expected.y + f->row0},
                         expected.match,
                         strength_left(f, &b, (int)lround(expected.x), (int)lround(expected.y))};
}

static bk_status follow_all(const bk_image *from, const bk_image *to, const bk_pt_px *points, size_t n, double mm_per_px,
                            bk_arena *arena, bk_followed *out, bk_err *err)
{
    const bk_follow_box part = bk_follow_box_around(points, n, (MARGIN_MM + BK_FOLLOW_REACH_MM + BK_TUBES_FAR_MM) / mm_per_px, from);
    field f = {.row0 = part.top, .col0 = part.left, .mm_per_px = mm_per_px};
    shift common = {0};
    bk_pt_px *inner = BK_NEW(arena, n, bk_pt_px, err);
    if (!inner)
        return err ? err->status : BK_E_LIMIT;
    for (size_t i = 0; i < n; i++)
        inner[i] = (bk_pt_px){points[i].x - f.col0, points[i].y - f.row0};
    bk_status status = bk_follow_tubes(from, &part, mm_per_px, arena, &f.from, err);
    if (status == BK_OK)
        status = bk_follow_tubes(to, &part, mm_per_px, arena, &f.to, err);
    if (status == BK_OK)
        status = common_movement(&f, inner, n, arena, &common, err);
    for (size_t i = 0; status == BK_OK && i < n; i++)
        out[i] = follow_one(&f, inner[i], common);
    return status;
}

bk_status bk_follow_points(const bk_image *from, const bk_image *to, const bk_pt_px *points, size_t n, double mm_per_px,
                           bk_arena *arena, bk_followed *out, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    const bk_status status = follow_all(from, to, points, n, mm_per_px, arena, out, err);
    bk_arena_rewind(arena, mark);
    return status;
}
