/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/occlusion.h"

#include <math.h>

#include "base/order.h"

#define STEP_PX 0.5        /* between offsets across */
#define STRETCH_MM 1.5     /* averaged along the vessel */
#define BESIDE_MM 0.4      /* how far beside the traced axis a thread is looked for */
#define BAND_MM 0.4        /* half the narrow band */
#define FLANK_GAP_MM 0.25  /* between band and flank */
#define FLANK_MM 0.6       /* width of one flank; two lie on each side, the brighter counts */
#define LEAST_MM 0.35      /* a lumen that reads less than this is not seen: true ones of 0.3 mm read about 0.35 */
#define GAP_MM 1.5         /* nothing seen over this much: with the averaging a gap of about 2.5 mm */
#define RAMP_MM 0.4        /* by which the averaging shortens a gap at either end */
#define WIDE_PART 0.3      /* part of the proximal density that a wide lumen must show */
#define REACH_MM 6.5       /* of a scan line to either side: the widest band and its flanks */
#define PI 3.14159265358979

/* Scan lines of one limb: rows of `across` log intensities, averaged along, as running totals (across + 1 a row). */
typedef struct scan {
    size_t n, across;
    double *total;
    double step_mm; /* across */
    double pixel_sd, mm_per_px;
} scan;

static double sample(const bk_image *image, double x, double y)
{
    x = fmin(fmax(x, 0), image->cols - 1.001);
    y = fmin(fmax(y, 0), image->rows - 1.001);
    const int32_t c = (int32_t)x, r = (int32_t)y;
    const double fx = x - c, fy = y - r;
    return (1 - fy) * ((1 - fx) * (double)bk_image_at(image, r, c) + fx * (double)bk_image_at(image, r, c + 1)) +
           fy * ((1 - fx) * (double)bk_image_at(image, r + 1, c) + fx * (double)bk_image_at(image, r + 1, c + 1));
}

/* Mean of row k from offset a to b (mm from the axis). */
static double mean_of(const scan *s, size_t k, double a_mm, double b_mm)
{
    const double middle = 0.5 * (double)(s->across - 1), *total = s->total + k * (s->across + 1);
    const size_t from = (size_t)ceil(middle + a_mm / s->step_mm), to = (size_t)floor(middle + b_mm / s->step_mm);
    const size_t end = to < from ? from : to; /* pixels wider than the band */
    return (total[end + 1] - total[from]) / (double)(end + 1 - from);
}

static double flank(const scan *s, size_t k, double x0, double half, double scale, int side)
{
    double best = -INFINITY;
    for (int i = 0; i < 2; i++) {
        const double a = half + scale * (FLANK_GAP_MM + i * FLANK_MM), b = a + scale * FLANK_MM;
        best = fmax(best, side > 0 ? mean_of(s, k, x0 + a, x0 + b) : mean_of(s, k, x0 - b, x0 - a));
    }
    return best;
}

/* Contrast of a band of half width `half` at its darkest place. */
static double band(const scan *s, size_t k, double half, double beside)
{
    double best = -INFINITY;
    const double scale = half / BAND_MM < 1.5 ? 1 : half / BAND_MM / 1.5;
    for (double x0 = -beside; x0 <= beside + 1e-9; x0 += 0.1) {
        const double l = flank(s, k, x0, half, scale, -1), r = flank(s, k, x0, half, scale, 1);
        best = fmax(best, 0.5 * (l + r) - mean_of(s, k, x0 - half, x0 + half));
    }
    return best;
}

/* SD of one sample: from differences of scan lines 2 px apart, which hardly share a pixel. */
static double sample_sd(const scan *s, const double *raw, double *scratch)
{
    size_t m = 0;
    for (size_t k = 0; k + 4 < s->n; k += 4)
        for (size_t j = 0; j < s->across; j += 4)
            scratch[m++] = fabs(raw[k * s->across + j] - raw[(k + 4) * s->across + j]);
    bk_sort_doubles(scratch, m);
    return m ? 1.4826 * scratch[m / 2] / sqrt(2) : 0;
}

/* Moving mean over 2 half + 1 rows (fewer at the ends), then running totals across. */
static void average_along(scan *s, const double *raw, size_t half, double *sum)
{
    size_t from = 0, to = 0; /* rows from .. to-1 are in the sum */
    for (size_t j = 0; j < s->across; j++)
        sum[j] = 0;
    for (size_t k = 0; k < s->n; k++) {
        for (; to < s->n && to <= k + half; to++)
            for (size_t j = 0; j < s->across; j++)
                sum[j] += raw[to * s->across + j];
        for (; from + half < k; from++)
            for (size_t j = 0; j < s->across; j++)
                sum[j] -= raw[from * s->across + j];
        double *total = s->total + k * (s->across + 1);
        for (size_t j = 0; j < s->across; j++)
            total[j + 1] = total[j] + sum[j] / (double)(to - from);
    }
}

static bk_status scan_limb(const bk_image *log_image, const bk_curve *axis, double mm_per_px, bk_arena *arena, scan *s,
                           bk_err *err)
{
    const size_t half = (size_t)ceil(REACH_MM / mm_per_px / STEP_PX);
    *s = (scan){.n = axis->n, .across = 2 * half + 1, .step_mm = STEP_PX * mm_per_px, .mm_per_px = mm_per_px};
    bk_pt_px *normal = BK_NEW(arena, axis->n, bk_pt_px, err);
    double *raw = BK_NEW(arena, axis->n * s->across, double, err);
    double *scratch = BK_NEW(arena, axis->n * s->across / 8 + s->across, double, err);
    s->total = BK_NEW(arena, axis->n * (s->across + 1), double, err);
    if (!normal || !raw || !scratch || !s->total)
        return err ? err->status : BK_E_LIMIT;
    bk_curve_normals(axis, normal);
    for (size_t k = 0; k < s->n; k++)
        for (size_t j = 0; j < s->across; j++) {
            const double x = ((double)j - (double)half) * STEP_PX;
            raw[k * s->across + j] = sample(log_image, axis->points[k].x + x * normal[k].x, axis->points[k].y + x * normal[k].y);
        }
    s->pixel_sd = sample_sd(s, raw, scratch);
    average_along(s, raw, (size_t)fmax(0.5 * STRETCH_MM / mm_per_px / axis->step_px, 1), scratch);
    return BK_OK;
}

/* What one limb shows at each traced sample. */
typedef struct evidence {
    scan s;
    double step_mm; /* along */
    bool *filled;
    double *area, *area_sd; /* square of the diameter that the contrast in the narrow band amounts to, mm^2 */
} evidence;

/* Density of the contrast per mm: contrast in the middle over diameter, median along the proximal limb. */
static bk_status density_of(const scan *s, const double *radius_px, bk_arena *arena, double *out, bk_err *err)
{
    double *value = BK_NEW(arena, s->n, double, err);
    if (!value)
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < s->n; k++) {
        const double radius = radius_px[k] * s->mm_per_px;
        value[k] = band(s, k, fmin(0.5 * radius, 1.8), 0.5 * BESIDE_MM) / (2 * radius);
    }
    bk_sort_doubles(value, s->n);
    *out = value[s->n / 2];
    return BK_OK;
}

/* A lumen wider than the narrow band and its flanks shows nothing there: does a wider band see it? */
static bool wide_lumen(const scan *s, size_t k, double density)
{
    for (double half = 2 * BAND_MM; half < 5 * BAND_MM; half *= 2)
        if (band(s, k, half, BESIDE_MM) >= WIDE_PART * density * 2 * half)
            return true;
    return false;
}

static bk_status weigh(evidence *e, double density, bk_arena *arena, bk_err *err)
{
    const scan *s = &e->s;
    const double unit = 4 / PI / density, mm = s->mm_per_px;
    const double noise = s->pixel_sd * mm / sqrt(STRETCH_MM) * sqrt(1 / (2 * BAND_MM) + 1 / (2 * FLANK_MM));
    e->filled = BK_NEW(arena, s->n, bool, err);
    e->area = BK_NEW(arena, s->n, double, err);
    e->area_sd = BK_NEW(arena, s->n, double, err);
    if (!e->filled || !e->area || !e->area_sd)
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < s->n; k++) {
        e->area[k] = 2 * BAND_MM * band(s, k, BAND_MM, BESIDE_MM) * unit;
        e->area_sd[k] = 2 * BAND_MM * noise * unit;
        e->filled[k] = e->area[k] >= LEAST_MM * LEAST_MM || wide_lumen(s, k, density);
    }
    return BK_OK;
}

/* First run of at least `length` samples from `from` on that are filled (or not); n when there is none. */
static size_t first_run(const evidence *e, size_t from, size_t length, bool filled)
{
    size_t run = 0;
    for (size_t k = from; k < e->s.n; k++) {
        run = e->filled[k] == filled ? run + 1 : 0;
        if (run >= length)
            return k + 1 - run;
    }
    return e->s.n;
}

/* Where a thread lies within the noise for half the length of a gap, or is absent for that long. */
static size_t first_doubt(const evidence *e, size_t length)
{
    size_t run = 0;
    for (size_t k = 0; k < e->s.n; k++) {
        const bool thread = !e->filled[k] || (e->area[k] < 4 * LEAST_MM * LEAST_MM && e->area[k] < 2 * e->area_sd[k]);
        run = thread ? run + 1 : 0;
        if (run >= length)
            return k + 1 - run;
    }
    return e->s.n;
}

static void judge(const evidence *e, bk_patency *out)
{
    const size_t n = e->s.n, gap = (size_t)ceil(GAP_MM / e->step_mm), ramp = (size_t)(RAMP_MM / e->step_mm);
    const size_t start = first_run(e, 0, gap, false);
    *out = (bk_patency){.stop = n, .refill = n, .seen_least_mm = LEAST_MM};
    out->dim = first_run(e, 0, 1, false);
    out->doubt = first_doubt(e, gap / 2);
    out->doubtful = out->doubt < n;
    if (start == n)
        return;
    const size_t again = first_run(e, start, gap, true), end = again < n ? again : n;
    double worst = 0;
    for (size_t k = start; k < end && k < start + gap; k++)
        worst = fmax(worst, e->area[k] + 1.645 * e->area_sd[k]);
    out->occluded = true;
    out->refills = again < n;
    out->doubtful = false;
    out->stop = start > ramp ? start - ramp : 0; /* the mean over a stretch sees the end of contrast late */
    out->refill = again < n ? (again + ramp < n ? again + ramp : n - 1) : n;
    out->seen_least_mm = sqrt(worst);
}

bk_status bk_patency_find(const bk_image *log_image, const bk_trace *trace, double mm_per_px, bk_arena *arena,
                          bk_patency out[BK_LIMBS], bk_err *err)
{
    evidence e[BK_LIMBS];
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    double density = 0;
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        e[i].step_mm = trace->limb[i].step_px * mm_per_px;
        status = scan_limb(log_image, &trace->limb[i], mm_per_px, arena, &e[i].s, err);
    }
    if (status == BK_OK)
        status = density_of(&e[BK_PROXIMAL].s, trace->radius_px[BK_PROXIMAL], arena, &density, err);
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        if (density > 0)
            status = weigh(&e[i], density, arena, err);
        if (status == BK_OK && density > 0)
            judge(&e[i], &out[i]);
        if (status == BK_OK && !(density > 0))
            out[i] = (bk_patency){.occluded = true, .refill = trace->limb[i].n}; /* nothing darker than its sides */
        out[i].step_px = trace->limb[i].step_px;
        out[i].way = trace->limb[i].points;
    }
    bk_arena_rewind(arena, mark);
    return status;
}

void bk_patency_close(bk_patency *patency)
{
    patency->occluded = true;
    patency->doubtful = patency->refills = false;
    patency->stop = patency->dim;
}
