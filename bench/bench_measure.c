/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The stages of one measurement, timed after decoding; one JSON object with medians over the runs.
     bench_measure FILE PX,PY DX,DY SX,SY [--size N] [--runs N]
   --size: the first frame resampled to N x N, clicks and scale with it, to see how the cost grows with
   pixels. Times are of the processor (one thread), so that a busy machine disturbs them less. The single
   stages work on the whole frame with the scales a measurement uses, as the reference does; inside a
   measurement they work on the part around the clicks (trace_ms). */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include "base/evidence.h"
#include "base/number.h"
#include "base/order.h"
#include "core/anatomy/bifurcation.h"
#include "core/anatomy/calibration.h"
#include "core/anatomy/trace.h"
#include "core/image/edges.h"
#include "core/image/gauss.h"
#include "core/image/path.h"
#include "core/image/ridge.h"
#include "dicom/dicom.h"

#define RUNS_MAX 101
#define MEMORY_CAP ((size_t)2 << 30)

enum { T_GREY, T_LOG, T_RIDGE, T_PATH, T_TRACE, T_EDGES, T_LUMEN, T_MEASURE, TIMES };
static const char *const time_name[TIMES] = {"grey_ms",  "log_blur_ms", "ridge_ms", "path_ms",
                                             "trace_ms", "edges_ms",    "lumen_ms", "measure_ms"};

typedef struct bench {
    bk_dicom_info info;
    uint16_t *px;
    float *modality;
    int32_t size; /* 0: as it is */
    int runs;
    bk_pt_px click[BK_LIMBS];
    double mm_per_px, scale[BK_RIDGE_SCALES_MAX];
    int scales;
    double ms[TIMES][RUNS_MAX];
    double first_ms; /* of the whole measure, in fresh memory */
    size_t arena_peak, path_samples;
    int rounds;
    bk_arena kept;
} bench;

static double now_ms(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

/* The scales of a measurement: lumens of 0.7 to 5.5 mm in steps of sqrt 2 (core/anatomy/trace.c). */
static void set_scales(bench *b)
{
    const double largest = fmin(0.67 * 2.75 / b->mm_per_px, 20);
    for (double s = fmax(0.67 * 0.35 / b->mm_per_px, 1); s < largest * 1.2 && b->scales < BK_RIDGE_SCALES_MAX;
         s *= sqrt(2))
        b->scale[b->scales++] = s;
}

static bk_status decode(bench *b, const char *path, bk_err *err)
{
    bk_dicom *file;
    bk_status status = bk_dicom_open(path, &file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(file, &b->info);
    const size_t n = (size_t)b->info.rows * (size_t)b->info.cols, values = (size_t)1 << b->info.bits_stored;
    b->px = BK_NEW(&b->kept, n, uint16_t, err);
    b->modality = BK_NEW(&b->kept, values, float, err);
    status = b->px && b->modality ? bk_dicom_frame(file, 1, b->px, n, err) : BK_E_LIMIT;
    if (status == BK_OK)
        status = bk_dicom_modality_values(file, b->modality, values, err);
    bk_dicom_close(file);
    const double mm = b->info.imager_spacing_mm[1] * b->info.sod_mm / b->info.sid_mm;
    b->mm_per_px = mm > 0 ? mm : bk_scale_usual(b->info.cols);
    return status;
}

/* Another matrix over the same field: stored values sampled between the pixels. */
static bk_status resample(bench *b, bk_err *err)
{
    const double ratio = (double)b->info.cols / b->size;
    bk_image from;
    uint16_t *px = BK_NEW(&b->kept, b->size * b->size, uint16_t, err);
    if (!px || bk_image_new(b->info.rows, b->info.cols, &b->kept, &from, err) != BK_OK)
        return BK_E_LIMIT;
    for (size_t i = 0; i < (size_t)b->info.rows * (size_t)b->info.cols; i++)
        from.px[i] = b->px[i];
    for (int32_t r = 0; r < b->size; r++)
        for (int32_t c = 0; c < b->size; c++) {
            const double v = bk_image_sample(&from, (c + 0.5) * ratio - 0.5, (r + 0.5) * ratio - 0.5);
            px[r * b->size + c] = (uint16_t)fmin(fmax(round(v), 0), (1 << b->info.bits_stored) - 1);
        }
    for (int i = 0; i < BK_LIMBS; i++)
        b->click[i] = (bk_pt_px){(b->click[i].x + 0.5) / ratio - 0.5, (b->click[i].y + 0.5) / ratio - 0.5};
    b->px = px;
    b->info.rows = b->info.cols = b->size;
    b->mm_per_px *= ratio;
    return BK_OK;
}

/* Costs as a measurement makes them, from the weakest click. */
static bk_status cost_of(const bench *b, const bk_ridge *ridge, bk_arena *arena, bk_image *cost, bk_err *err)
{
    float wanted = INFINITY;
    if (bk_image_new(ridge->strength.rows, ridge->strength.cols, arena, cost, err) != BK_OK)
        return BK_E_LIMIT;
    for (int i = 0; i < BK_LIMBS; i++)
        wanted = fminf(wanted, bk_image_at(&ridge->strength, (int32_t)b->click[i].y, (int32_t)b->click[i].x));
    wanted = fmaxf(wanted, 1e-6F);
    for (size_t i = 0; i < (size_t)cost->rows * (size_t)cost->cols; i++) {
        const float v = ridge->strength.px[i], part = v / (v + wanted);
        cost->px[i] = 1 / (0.01F + part * part);
    }
    return BK_OK;
}

static bk_pt_px whole(bk_pt_px p)
{
    return (bk_pt_px){round(p.x), round(p.y)};
}

static bk_status ridge_and_path(bench *b, const bk_image *log_image, int run, bk_arena *arena, bk_err *err)
{
    bk_ridge ridge;
    bk_image cost;
    bk_path along, off;
    const double start = now_ms();
    bk_status status = bk_ridge_filter(log_image, b->scale, b->scales, arena, &ridge, err);
    const double middle = now_ms();
    const bk_pt_px from = whole(b->click[BK_PROXIMAL]);
    if (status == BK_OK)
        status = cost_of(b, &ridge, arena, &cost, err);
    if (status == BK_OK)
        status = bk_path_trace(&cost, &from, 1, whole(b->click[BK_DISTAL]), arena, &along, err);
    if (status == BK_OK)
        status = bk_path_trace(&cost, along.points, along.n, whole(b->click[BK_SIDE]), arena, &off, err);
    b->ms[T_RIDGE][run] = middle - start;
    b->ms[T_PATH][run] = now_ms() - middle;
    return status;
}

/* Edges and fit from the traced limbs, beginning clear of the parting as the first look does. */
static bk_status edges_and_fit(bench *b, const bk_image *intensity, const bk_image *soft,
                               const bk_trace *trace, int run, bk_arena *arena, bk_err *err)
{
    static bk_edge_table table;
    bk_lumen_limb edge[BK_LIMBS];
    bk_lumen_start begin[BK_LIMBS];
    bk_lumen_fit fit;
    bk_status status = BK_OK;
    bk_edge_table_fill(&table);
    const double start = now_ms();
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++) {
        const bk_curve *const axis = &trace->limb[i];
        const size_t most = axis->n > 24 ? axis->n - 24 : 0,
                     clear = (size_t)(2.5 / b->mm_per_px / axis->step_px);
        const bk_edge_options options = {b->mm_per_px, 1.3, &table, clear < most ? clear : most, SIZE_MAX, true};
        status = bk_edges_follow(soft, axis, trace->radius_px[i], &options, arena, &edge[i], err);
        if (status == BK_OK)
            begin[i] = (bk_lumen_start){edge[i].axis, edge[i].diameter_px, edge[i].n, edge[i].step_px,
                                        (double)options.trusted_from * edge[i].step_px};
    }
    const double middle = now_ms();
    const bk_lumen_options options = {.mm_per_px = b->mm_per_px, .scatter_fraction = 0.12};
    if (status == BK_OK)
        status = bk_lumen_fit_limbs(intensity, begin, &options, arena, &fit, err);
    b->ms[T_EDGES][run] = middle - start;
    b->ms[T_LUMEN][run] = now_ms() - middle;
    b->rounds = status == BK_OK ? fit.rounds : 0;
    return status;
}

static bk_measure_input input_of(const bench *b, const bk_image *intensity)
{
    bk_measure_input input = {.intensity = intensity,
                              .grey = BK_GREY_LINEAR,
                              .mm_per_px = b->mm_per_px,
                              .medina_threshold_pct = 50,
                              .evidence = bk_evidence_builtin(),
                              .law = bk_law_hk(bk_evidence_builtin())};
    memcpy(input.click, b->click, sizeof input.click);
    return input;
}

static bk_status stages(bench *b, int run, bk_arena *arena, bk_err *err)
{
    bk_image intensity, log_image, soft;
    bk_trace trace;
    const bk_stored stored = {b->px, b->info.rows,  b->info.cols, b->modality, 1 << b->info.bits_stored,
                              1,     BK_GREY_LINEAR};
    double at = now_ms();
    bk_status status = bk_image_from_stored(&stored, arena, &intensity, err);
    b->ms[T_GREY][run] = now_ms() - at;
    at = now_ms();
    if (status == BK_OK)
        status = bk_image_log(&intensity, BK_GREY_LINEAR, arena, &log_image, err);
    if (status == BK_OK)
        status = bk_image_new(log_image.rows, log_image.cols, arena, &soft, err);
    if (status == BK_OK)
        status = bk_gauss_blur(&log_image, 1.0, arena, &soft, err);
    b->ms[T_LOG][run] = now_ms() - at;
    if (status == BK_OK)
        status = ridge_and_path(b, &log_image, run, arena, err);
    const bk_measure_input input = input_of(b, &intensity);
    at = now_ms();
    if (status == BK_OK)
        status = bk_trace_limbs(&log_image, &input, true, arena, &trace, err);
    b->ms[T_TRACE][run] = now_ms() - at;
    return status == BK_OK ? edges_and_fit(b, &intensity, &soft, &trace, run, arena, err) : status;
}

/* Everything after decoding, in an arena of its own that also holds the stored values, as in the program. */
static bk_status whole_measure(bench *b, int run, bk_arena *arena, bk_err *err)
{
    const size_t n = (size_t)b->info.rows * (size_t)b->info.cols;
    uint16_t *px = BK_NEW(arena, n, uint16_t, err);
    if (!px)
        return BK_E_LIMIT;
    memcpy(px, b->px, n * sizeof *px);
    bk_image intensity;
    bk_bifurcation found;
    const bk_stored stored = {px, b->info.rows,  b->info.cols, b->modality, 1 << b->info.bits_stored,
                              1,  BK_GREY_LINEAR};
    const double start = now_ms();
    bk_status status = bk_image_from_stored(&stored, arena, &intensity, err);
    if (status == BK_OK) {
        const bk_measure_input input = input_of(b, &intensity);
        status = bk_bifurcation_measure(&input, arena, &found, err);
    }
    b->ms[T_MEASURE][run] = now_ms() - start;
    b->arena_peak = arena->peak;
    b->path_samples = 0;
    for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
        b->path_samples += found.segment[i].n;
    return status;
}

/* Memory is kept from run to run, as `serve` and `--batch` keep it; the first run also pays for getting it.
 */
static bk_status run_all(bench *b, bk_err *err)
{
    bk_arena parts, whole;
    bk_status status = BK_OK;
    bk_arena_init(&parts, MEMORY_CAP);
    bk_arena_init(&whole, MEMORY_CAP);
    const bk_arena_mark parts_mark = bk_arena_take_mark(&parts), whole_mark = bk_arena_take_mark(&whole);
    for (int run = 0; status == BK_OK && run < b->runs; run++) {
        status = whole_measure(b, run, &whole, err);
        bk_arena_rewind(&whole, whole_mark);
        if (status == BK_OK)
            status = stages(b, run, &parts, err);
        bk_arena_rewind(&parts, parts_mark);
    }
    b->first_ms = b->ms[T_MEASURE][0];
    bk_arena_clear(&parts);
    bk_arena_clear(&whole);
    return status;
}

static void show(bench *b)
{
    const size_t n = (size_t)b->info.rows * (size_t)b->info.cols;
    printf("{\"rows\":%d,\"columns\":%d,\"mm_per_px\":%.5f,\"runs\":%d,\"rounds\":%d,\"path_px\":%.1f,",
           (int)b->info.rows, (int)b->info.cols, b->mm_per_px, b->runs, b->rounds,
           0.5 * (double)b->path_samples);
    for (int k = 0; k < TIMES; k++) {
        bk_sort_doubles(b->ms[k], (size_t)b->runs);
        printf("\"%s\":%.4f,", time_name[k], b->ms[k][b->runs / 2]);
    }
    printf("\"measure_first_ms\":%.4f,", b->first_ms);
    printf("\"arena_peak_bytes\":%zu,\"arena_per_frame\":%.3f,\"scales_px\":[", b->arena_peak,
           (double)b->arena_peak / (double)(2 * n));
    for (int k = 0; k < b->scales; k++)
        printf("%s%.4f", k ? "," : "", b->scale[k]);
    puts("]}");
}

static bool pair(const char *text, bk_pt_px *out)
{
    const char *const comma = strchr(text, ',');
    return comma && bk_number_read(text, (size_t)(comma - text), &out->x) &&
           bk_number_read(comma + 1, strlen(comma + 1), &out->y);
}

static bool options_of(int argc, char **argv, bench *b)
{
    bool good = argc >= 5;
    for (int i = 0; good && i < BK_LIMBS; i++)
        good = pair(argv[2 + i], &b->click[i]);
    for (int i = 5; good && i < argc; i += 2) {
        int64_t value;
        good = i + 1 < argc && bk_integer_read(argv[i + 1], strlen(argv[i + 1]), &value) && value > 0 &&
               value <= 4096;
        if (good && strcmp(argv[i], "--size") == 0)
            b->size = (int32_t)value;
        else if (good && strcmp(argv[i], "--runs") == 0 && value <= RUNS_MAX)
            b->runs = (int)value;
        else
            good = false;
    }
    return good;
}

int main(int argc, char **argv)
{
    static bench b = {.runs = 7};
    bk_err err = {0};
    if (!options_of(argc, argv, &b)) {
        fprintf(stderr, "bench_measure: FILE PX,PY DX,DY SX,SY [--size N] [--runs 1..%d] was expected\n",
                RUNS_MAX);
        return 2;
    }
    bk_arena_init(&b.kept, MEMORY_CAP);
    bk_status status = decode(&b, argv[1], &err);
    if (status == BK_OK && b.size > 0)
        status = resample(&b, &err);
    if (status == BK_OK) {
        set_scales(&b);
        status = run_all(&b, &err);
    }
    if (status == BK_OK)
        show(&b);
    else
        fprintf(stderr, "bench_measure: %s\n", err.message);
    bk_arena_clear(&b.kept);
    return status == BK_OK ? 0 : 1;
}
