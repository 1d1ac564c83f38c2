/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/occlusion.h"

#include <math.h>

#include "base/order.h"
#include "core/image/image.h"

#define STEP_PX 1.0        /* between samples across */
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
#define DENSITY_EVERY 2    /* rows of the proximal limb behind the density */
#define PI 3.14159265358979

#define OFFSETS 9            /* places beside the axis that are looked at */
#define STRIPS 5            /* of a profile: the band, and two flanks on either side */

/* Scan lines of one limb: rows of `across` log intensities, averaged along, as running totals (across + 1 a row). */
typedef struct scan {
    size_t n, across;
    float *total;
    double step_mm; /* across */
    double pixel_sd, mm_per_px;
} scan;

/* Where a running total is read: between two samples, so that strips need not end on one. */
typedef struct edge {
    size_t at;
    float part;
} edge;

/* The strips of a band of one width at all its places, worked out once for all rows. */
typedef struct stencil {
    edge from[OFFSETS][STRIPS], to[OFFSETS][STRIPS];
    float share[OFFSETS][STRIPS]; /* 1 / width in samples */
} stencil;

static edge edge_at(const scan *s, double x_mm)
{
    const double x = 0.5 * (double)s->across + x_mm / s->step_mm;
    const size_t at = (size_t)x;
    return (edge){at, (float)(x - (double)at)};
}

/* A band of half width `half` [mm] and its flanks, which grow with it, at places up to `beside` from the axis. */
static stencil stencil_of(const scan *s, double half, double beside)
{
    stencil out;
    const double scale = half / BAND_MM < 1.5 ? 1 : half / BAND_MM / 1.5;
    for (int i = 0; i < OFFSETS; i++) {
        const double x0 = beside * (2.0 * i / (OFFSETS - 1) - 1);
        const double near = half + scale * FLANK_GAP_MM, width = scale * FLANK_MM;
        const double begin[STRIPS] = {-half, -near - width, -near - 2 * width, near, near + width};
        for (int k = 0; k < STRIPS; k++) {
            const double end = k == 0 ? half : begin[k] + width;
            out.from[i][k] = edge_at(s, x0 + begin[k]);
            out.to[i][k] = edge_at(s, x0 + end);
            out.share[i][k] = (float)(s->step_mm / (end - begin[k]));
        }
    }
    return out;
}

static float total_at(const float *total, edge e)
{
    return total[e.at] + e.part * (total[e.at + 1] - total[e.at]);
}

/* Contrast of the band in row k at its darkest place; of the flanks on a side the brighter counts. */
static double band(const scan *s, size_t k, const stencil *t)
{
    const float *total = s->total + k * (s->across + 1);
    float best = -INFINITY;
    for (int i = 0; i < OFFSETS; i++) {
        float mean[STRIPS];
        for (int j = 0; j < STRIPS; j++)
            mean[j] = (total_at(total, t->to[i][j]) - total_at(total, t->from[i][j])) * t->share[i][j];
        const float left = mean[1] > mean[2] ? mean[1] : mean[2], right = mean[3] > mean[4] ? mean[3] : mean[4];
        const float contrast = 0.5F * (left + right) - mean[0];
        best = contrast > best ? contrast : best;
    }
    return (double)best;
}

/* SD of one sample: from differences of scan lines 2 px apart, which hardly share a pixel. */
static double sample_sd(const scan *s, const float *raw, size_t apart, double *scratch)
{
    size_t m = 0;
    for (size_t k = 0; k + apart < s->n; k += 4)
        for (size_t j = 0; j < s->across; j += 2)
            scratch[m++] = (double)fabsf(raw[k * s->across + j] - raw[(k + apart) * s->across + j]);
    return 1.4826 * bk_median(scratch, m) / sqrt(2);
}

/* Moving mean over 2 half + 1 rows (fewer at the ends), then running totals across. */
static void average_along(scan *s, const float *raw, size_t half, float *sum)
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
        const float share = 1 / (float)(to - from);
        float *total = s->total + k * (s->across + 1), so_far = 0;
        for (size_t j = 0; j < s->across; j++) {
            total[j] = so_far;
            so_far += sum[j] * share;
        }
        total[s->across] = so_far;
    }
}

/* Log intensities along one scan line. */
static void sample_line(const bk_image *log_image, bk_pt_px at, bk_pt_px normal, size_t n, float *out)
{
    float x = (float)(at.x - 0.5 * (double)(n - 1) * STEP_PX * normal.x);
    float y = (float)(at.y - 0.5 * (double)(n - 1) * STEP_PX * normal.y);
    const float dx = (float)(STEP_PX * normal.x), dy = (float)(STEP_PX * normal.y);
    const float x1 = x + (float)(n - 1) * dx, y1 = y + (float)(n - 1) * dy;
    const float right = (float)log_image->cols - 1.01F, low = (float)log_image->rows - 1.01F;
    if (fminf(x, x1) >= 0 && fminf(y, y1) >= 0 && fmaxf(x, x1) <= right && fmaxf(y, y1) <= low)
        for (size_t j = 0; j < n; j++, x += dx, y += dy)
            out[j] = bk_image_bilinear_inside(log_image, x, y);
    else
        for (size_t j = 0; j < n; j++, x += dx, y += dy)
            out[j] = bk_image_bilinear(log_image, x, y);
}

static bk_status scan_limb(const bk_image *log_image, const bk_curve *axis, double mm_per_px, bk_arena *arena, scan *s,
                           bk_err *err)
{
    const size_t half = (size_t)ceil(REACH_MM / mm_per_px / STEP_PX);
    *s = (scan){.n = axis->n, .across = 2 * half + 1, .step_mm = STEP_PX * mm_per_px, .mm_per_px = mm_per_px};
    bk_pt_px *normal = BK_NEW_RAW(arena, axis->n, bk_pt_px, err);
    float *raw = BK_NEW_RAW(arena, axis->n * s->across, float, err), *sum = BK_NEW_RAW(arena, s->across, float, err);
    double *scratch = BK_NEW_RAW(arena, (axis->n / 4 + 1) * (half + 1), double, err);
    s->total = BK_NEW_RAW(arena, axis->n * (s->across + 1), float, err);
    if (!normal || !raw || !sum || !scratch || !s->total)
        return err ? err->status : BK_E_LIMIT;
    bk_curve_normals(axis, normal);
    for (size_t k = 0; k < s->n; k++)
        sample_line(log_image, axis->points[k], normal[k], s->across, raw + k * s->across);
    s->pixel_sd = sample_sd(s, raw, (size_t)fmax(2 / axis->step_px, 1), scratch);
    average_along(s, raw, (size_t)fmax(0.5 * STRETCH_MM / mm_per_px / axis->step_px, 1), sum);
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
    double *value = BK_NEW_RAW(arena, s->n, double, err), last = NAN;
    stencil t = {0};
    size_t m = 0;
    if (!value)
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < s->n; k += DENSITY_EVERY) {
        const double radius = radius_px[k] * s->mm_per_px;
        if (radius != last) /* the radii are few: the filter's scales */
            t = stencil_of(s, fmin(0.5 * radius, 1.8), 0.5 * BESIDE_MM);
        last = radius;
        value[m++] = band(s, k, &t) / (2 * radius);
    }
    *out = bk_median(value, m);
    return BK_OK;
}

/* A lumen wider than the narrow band and its flanks shows nothing there: does a wider band see it? */
static bool wide_lumen(const scan *s, size_t k, const stencil wide[2], double density)
{
    return band(s, k, &wide[0]) >= WIDE_PART * density * 4 * BAND_MM ||
           band(s, k, &wide[1]) >= WIDE_PART * density * 8 * BAND_MM;
}

/* parent_px: radius of the vessel that the limb comes out of; the samples in it lie in a lumen, whatever they show. */
static bk_status weigh(evidence *e, double density, double parent_px, bk_arena *arena, bk_err *err)
{
    const scan *s = &e->s;
    const stencil narrow = stencil_of(s, BAND_MM, BESIDE_MM);
    const stencil wide[2] = {stencil_of(s, 2 * BAND_MM, BESIDE_MM), stencil_of(s, 4 * BAND_MM, BESIDE_MM)};
    const size_t inside = (size_t)(parent_px * s->mm_per_px / e->step_mm);
    const double unit = 4 / PI / density, mm = s->mm_per_px;
    const double noise = s->pixel_sd * mm / sqrt(STRETCH_MM) * sqrt(1 / (2 * BAND_MM) + 1 / (2 * FLANK_MM));
    e->filled = BK_NEW_RAW(arena, s->n, bool, err);
    e->area = BK_NEW_RAW(arena, s->n, double, err);
    e->area_sd = BK_NEW_RAW(arena, s->n, double, err);
    if (!e->filled || !e->area || !e->area_sd)
        return err ? err->status : BK_E_LIMIT;
    for (size_t k = 0; k < s->n; k++) {
        e->area[k] = k < inside ? (double)INFINITY : 2 * BAND_MM * band(s, k, &narrow) * unit;
        e->area_sd[k] = 2 * BAND_MM * noise * unit;
        e->filled[k] = e->area[k] >= LEAST_MM * LEAST_MM || wide_lumen(s, k, wide, density);
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
    const double parent_px = trace->radius_px[BK_PROXIMAL][trace->limb[BK_PROXIMAL].n / 2];
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
            status = weigh(&e[i], density, parent_px, arena, err);
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
