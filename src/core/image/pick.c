/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/image/pick.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/order.h"
#include "core/image/gauss.h"
#include "core/image/tubes.h"

#define SMOOTH_PX 1.0
#define DARK_LOG 3.0    /* a pixel this much under the bright ones in every frame lies behind the collimator */
#define DARK_SHARE 0.12 /* the same for values that are no intensity, in parts of the bright ones */
#define EDGE_SPREAD_PX 2.0
#define ALIKE 0.5 /* filling of the emptiest frame from which on all frames are called alike */
#define FILLED 0.9
#define SEEN 0.15         /* filling below which sharpness means nothing */
#define FRAME_MS 66.7     /* when the file has no times: 15 frames a second, common practice, no source */

typedef struct raw {
    double above_still, all; /* summed response above the still background; above noise only */
    double sharp_above, sharp_all, motion_px; /* motion to the next frame */
} raw;

struct bk_pick {
    bk_pick_options options;
    bk_arena *arena;
    int levels;
    double mm_per_px; /* of the working copy */
    bk_image smooth, tubes, still, brightest;
    bk_image vessels, before; /* tubes above the still background: this frame and the one before */
    unsigned char *inside;
    double noise_sum, noise;
    float *scratch;
    raw *raw;
    int32_t learned, looked;
};

static bk_status make_images(bk_pick *p, int32_t rows, int32_t cols, bk_err *err)
{
    bk_image *const images[] = {&p->smooth, &p->tubes, &p->still, &p->brightest, &p->vessels, &p->before};
    for (size_t i = 0; i < sizeof images / sizeof images[0]; i++)
        if (bk_image_new(rows, cols, p->arena, images[i], err) != BK_OK)
            return err ? err->status : BK_E_LIMIT;
    const size_t n = (size_t)rows * (size_t)cols;
    for (size_t i = 0; i < n; i++) {
        p->still.px[i] = INFINITY;
        p->brightest.px[i] = -INFINITY;
    }
    p->inside = BK_NEW(p->arena, n, unsigned char, err);
    p->scratch = BK_NEW(p->arena, n, float, err);
    p->raw = BK_NEW(p->arena, p->options.frames, raw, err);
    return p->inside && p->scratch && p->raw ? BK_OK : err ? err->status : BK_E_LIMIT;
}

bk_status bk_pick_start(const bk_pick_options *options, bk_arena *arena, bk_pick **out, bk_err *err)
{
    bk_pick *p = BK_NEW(arena, 1, bk_pick, err);
    *out = p;
    if (!p)
        return err ? err->status : BK_E_LIMIT;
    p->options = *options;
    p->arena = arena;
    int32_t rows = options->rows, cols = options->cols;
    while ((rows > BK_PICK_SIDE || cols > BK_PICK_SIDE) && rows > 1 && cols > 1) {
        rows /= 2;
        cols /= 2;
        p->levels++;
    }
    p->mm_per_px = options->mm_per_px * (1 << p->levels);
    return make_images(p, rows, cols, err);
}

static size_t pixels_of(const bk_pick *p)
{
    return (size_t)p->smooth.rows * (size_t)p->smooth.cols;
}

/* Working copy of a frame and its tubes, into smooth and tubes. */
static bk_status prepare(bk_pick *p, const bk_image *log_image, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(p->arena);
    bk_image now = *log_image;
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < p->levels; i++) {
        const bk_image larger = now;
        status = bk_image_halve(&larger, p->arena, &now, err);
    }
    if (status == BK_OK)
        status = bk_gauss_blur(&now, SMOOTH_PX, p->arena, &p->smooth, err);
    bk_arena_rewind(p->arena, mark);
    double distance[2];
    bk_tubes_distances(p->mm_per_px, distance);
    if (status == BK_OK)
        bk_tubes(&p->smooth, distance, 2, &p->tubes);
    return status;
}

bk_status bk_pick_learn(bk_pick *p, const bk_image *log_image, bk_err *err)
{
    const bk_status status = prepare(p, log_image, err);
    if (status != BK_OK)
        return status;
    const size_t n = pixels_of(p);
    for (size_t i = 0; i < n; i++) {
        p->still.px[i] = fminf(p->still.px[i], p->tubes.px[i]);
        p->brightest.px[i] = fmaxf(p->brightest.px[i], p->smooth.px[i]);
    }
    p->noise_sum += (double)bk_tubes_median(&p->tubes, p->scratch);
    p->learned++;
    return BK_OK;
}

static bool masked(const bk_pick *p, int32_t r, int32_t c)
{
    if (!p->options.mask)
        return false;
    const size_t row = (size_t)r << p->levels, col = (size_t)c << p->levels;
    return p->options.mask[row * (size_t)p->options.cols + col] != 0;
}

/* Pixels that some frame shows bright, away from those that none does: the collimator's edge is no vessel. */
static void find_inside(bk_pick *p)
{
    const size_t n = pixels_of(p);
    const int32_t rows = p->smooth.rows, cols = p->smooth.cols;
    memcpy(p->scratch, p->brightest.px, n * sizeof *p->scratch);
    bk_sort_floats(p->scratch, n);
    const double bright = (double)p->scratch[n * 9 / 10];
    const double dark = p->options.grey == BK_GREY_LINEAR ? bright - DARK_LOG : bright * DARK_SHARE;
    const int32_t reach = (int32_t)ceil(BK_TUBES_FAR_MM / p->mm_per_px) + 2;
    memset(p->inside, 1, n);
    for (int32_t r = 0; r < rows; r++)
        for (int32_t c = 0; c < cols; c++) {
            if (!masked(p, r, c) && (double)bk_image_at(&p->brightest, r, c) > dark)
                continue;
            const int32_t left = c > reach ? c - reach : 0, right = c + reach < cols ? c + reach : cols - 1;
            for (int32_t k = r > reach ? r - reach : 0; k <= r + reach && k < rows; k++)
                memset(p->inside + k * cols + left, 0, (size_t)(right - left + 1));
        }
}

/* Takes the noise off tubes, and noise and still background off vessels. */
static void sum_tubes(bk_pick *p, raw *out)
{
    const size_t n = pixels_of(p);
    const double noise = p->noise;
    for (size_t i = 0; i < n; i++) {
        const double v = p->inside[i] ? (double)p->tubes.px[i] : 0;
        const double all = fmax(v - noise, 0), above = fmax(v - (double)p->still.px[i] - noise, 0);
        p->tubes.px[i] = (float)all;
        p->vessels.px[i] = (float)above;
        out->all += all;
        out->above_still += above;
    }
}

/* Slope of the vessels' edges in parts of their contrast [1/px]: squared gradient around the vessels less that of
   the rest of the picture, which is noise and background, over the squared contrast. */
static bk_status measure_sharpness(bk_pick *p, const bk_image *vessels, double *out, bk_err *err)
{
    const bk_arena_mark mark = bk_arena_take_mark(p->arena);
    bk_image around;
    bk_status status = bk_image_new(p->smooth.rows, p->smooth.cols, p->arena, &around, err);
    if (status == BK_OK)
        status = bk_gauss_blur(vessels, EDGE_SPREAD_PX, p->arena, &around, err);
    double near = 0, near_weight = 0, far = 0, far_n = 0, v1 = 0, v2 = 0;
    const ptrdiff_t cols = p->smooth.cols;
    for (int32_t r = 1; status == BK_OK && r + 1 < p->smooth.rows; r++)
        for (ptrdiff_t c = 1; c + 1 < cols; c++) {
            const ptrdiff_t at = r * cols + c;
            if (!p->inside[at])
                continue;
            const float *q = p->smooth.px + at;
            const double gx = 0.5 * (double)(q[1] - q[-1]), gy = 0.5 * (double)(q[cols] - q[-cols]);
            const double g = gx * gx + gy * gy, w = (double)around.px[at], v = (double)vessels->px[at];
            near += w * g;
            near_weight += w;
            far += w > 0 ? 0 : g;
            far_n += w > 0 ? 0 : 1;
            v1 += v;
            v2 += v * v;
        }
    bk_arena_rewind(p->arena, mark);
    *out = 0;
    if (near_weight > 0 && v2 > 0) {
        const double floor = far_n > 0 ? far / far_n : 0;
        *out = sqrt(fmax(near / near_weight - floor, 0)) / (v2 / v1);
    }
    return status;
}

bk_status bk_pick_look(bk_pick *p, const bk_image *log_image, bk_err *err)
{
    if (p->looked == 0) {
        p->noise = BK_TUBES_NOISE * p->noise_sum / p->learned;
        find_inside(p);
    }
    bk_status status = prepare(p, log_image, err);
    if (status != BK_OK)
        return status;
    raw *now = &p->raw[p->looked];
    const bk_image newer = p->before;
    p->before = p->vessels;
    p->vessels = newer;
    sum_tubes(p, now);
    now->motion_px = NAN;
    if (p->looked > 0)
        status = bk_pick_motion(&p->before, &p->vessels, p->arena, &p->raw[p->looked - 1].motion_px, err);
    if (status == BK_OK)
        status = measure_sharpness(p, &p->vessels, &now->sharp_above, err);
    if (status == BK_OK)
        status = measure_sharpness(p, &p->tubes, &now->sharp_all, err);
    p->looked++;
    return status;
}

double bk_pick_diastole(double phase_pct)
{
    if (!isfinite(phase_pct))
        return NAN;
    const double late = (phase_pct - 50) / 10, early = 1 - phase_pct / 10;
    return fmin(1, fmax(0, fmax(late, early)));
}

static double speed_of(const bk_pick *p, const double *times_ms, int32_t i)
{
    double sum = 0;
    int n = 0;
    for (int32_t from = i - 1; from <= i; from++) {
        if (from < 0 || from + 1 >= p->looked || !isfinite(p->raw[from].motion_px))
            continue;
        const double ms = times_ms ? times_ms[from + 1] - times_ms[from] : FRAME_MS;
        sum += p->raw[from].motion_px * p->mm_per_px / (ms > 0 ? ms : FRAME_MS) * 1000;
        n++;
    }
    return n ? sum / n : (double)NAN;
}

static double known_or_one(double v)
{
    return isfinite(v) ? v : 1;
}

typedef struct range {
    double least, most;
} range;

static range widen(range r, double v)
{
    return (range){fmin(r.least, v), fmax(r.most, v)};
}

/* Filling above what stands still; where that tells nothing (all frames alike), above the noise alone. */
static void fill_frames(const bk_pick *p, bk_pick_result *out)
{
    range still = {INFINITY, 0}, all = {INFINITY, 0};
    for (int32_t i = 0; i < p->looked; i++) {
        still = widen(still, p->raw[i].above_still);
        all = widen(all, p->raw[i].all);
    }
    out->filling_changes = still.most > SEEN * all.most && still.least < ALIKE * still.most;
    for (int32_t i = 0; i < p->looked; i++) {
        const double is = out->filling_changes ? p->raw[i].above_still : p->raw[i].all;
        const double of = out->filling_changes ? still.most : all.most;
        out->frame[i].filling = of > 0 ? is / of : 0;
    }
}

static double sharp_of(const bk_pick *p, const bk_pick_result *found, int32_t i)
{
    return found->filling_changes ? p->raw[i].sharp_above : p->raw[i].sharp_all;
}

static void score_frames(const bk_pick *p, const double *times_ms, const double *phase_pct, bk_pick_result *out)
{
    double sharpest = 0;
    for (int32_t i = 0; i < p->looked; i++)
        if (out->frame[i].filling > ALIKE)
            sharpest = fmax(sharpest, sharp_of(p, out, i));
    for (int32_t i = 0; i < p->looked; i++) {
        bk_pick_frame *f = &out->frame[i];
        f->sharpness = f->filling < SEEN || !(sharpest > 0) ? 0 : fmin(sharp_of(p, out, i) / sharpest, 1);
        f->speed_mm_s = f->filling < SEEN ? (double)NAN : speed_of(p, times_ms, i);
        const double pace = f->speed_mm_s / p->options.resting_speed_mm_s;
        f->stillness = 1 / (1 + pace * pace);
        f->diastole = phase_pct ? bk_pick_diastole(phase_pct[i]) : (double)NAN;
        const double filled = fmin(f->filling / FILLED, 1);
        f->score = 100 * filled * filled * (1 + f->sharpness) / 2 * (1 + known_or_one(f->stillness)) / 2 *
                   (0.9 + 0.1 * known_or_one(f->diastole));
    }
}

typedef struct rank {
    double score;
    int32_t frame;
} rank;

/* Best first; of equal ones the earlier frame. */
static int by_score(const void *a, const void *b)
{
    const rank *x = a, *y = b;
    return x->score != y->score ? (x->score < y->score ? 1 : -1) : (x->frame > y->frame) - (x->frame < y->frame);
}

static bk_status order_frames(const bk_pick *p, bk_pick_result *out, bk_err *err)
{
    rank *ranks = BK_NEW(p->arena, p->looked, rank, err);
    if (!ranks)
        return err ? err->status : BK_E_LIMIT;
    for (int32_t i = 0; i < p->looked; i++)
        ranks[i] = (rank){out->frame[i].score, i + 1};
    qsort(ranks, (size_t)p->looked, sizeof *ranks, by_score);
    for (int32_t i = 0; i < p->looked; i++)
        out->order[i] = ranks[i].frame;
    return BK_OK;
}

bk_status bk_pick_finish(bk_pick *p, const double *times_ms, const double *phase_pct, bk_pick_result *out, bk_err *err)
{
    *out = (bk_pick_result){BK_NEW(p->arena, p->looked, bk_pick_frame, err), BK_NEW(p->arena, p->looked, int32_t, err), false};
    if (!out->frame || !out->order)
        return err ? err->status : BK_E_LIMIT;
    fill_frames(p, out);
    score_frames(p, times_ms, phase_pct, out);
    return order_frames(p, out, err);
}
