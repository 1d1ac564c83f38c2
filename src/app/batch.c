/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/batch.h"

#include <math.h>
#include <string.h>

#include "app/batch_list.h"
#include "app/measure.h"
#include "app/workers.h"
#include "base/csv.h"
#include "base/format.h"
#include "base/number.h"
#include "core/limb.h"

#define MEMORY_CAP ((size_t)1 << 30)

/* Values with an SD, each two columns: NAME and NAME_sd. */
static const char *const limb_values[] = {"reference_mm", "mld_mm", "stenosis_pct", "lesion_length_mm", "length_mm", NULL};
static const char *const angles[] = {"distal_side_deg", "proximal_side_deg", "proximal_distal_deg", NULL};

typedef struct batch {
    const bk_batch_options *options;
    bk_arena arena;
    bk_batch_list list;
    FILE *out;
    int failed;
} batch;

static void add_names(bk_csv_line *line, const char *prefix, const char *name)
{
    char text[64];
    bk_format(text, sizeof text, "%s%s", prefix, name);
    bk_csv_line_add(line, text);
    bk_format(text, sizeof text, "%s%s_sd", prefix, name);
    bk_csv_line_add(line, text);
}

static void make_header(bk_csv_line *line)
{
    static const char *const first[] = {"file", "frame", "status", "reason", "medina", NULL};
    static const char *const last[] = {"mm_per_px", "calibration_sd_pct", "fit_mode", "warnings", NULL};
    for (int i = 0; first[i]; i++)
        bk_csv_line_add(line, first[i]);
    for (int k = 0; k < BK_LIMBS; k++) {
        char prefix[16];
        bk_format(prefix, sizeof prefix, "%s_", bk_limb_name(k));
        for (int i = 0; limb_values[i]; i++)
            add_names(line, prefix, limb_values[i]);
    }
    for (int i = 0; angles[i]; i++)
        add_names(line, "", angles[i]);
    for (int i = 0; last[i]; i++)
        bk_csv_line_add(line, last[i]);
    bk_csv_line_end(line);
}

/* An absent number is an empty cell, also where there is no answer at all (NULL). */
static void add_number(bk_csv_line *line, const bk_json *value)
{
    char text[BK_NUMBER_TEXT] = "";
    const double number = bk_json_number(value);
    if (isfinite(number))
        bk_number_print(text, number);
    bk_csv_line_add(line, text);
}

static void add_pair(bk_csv_line *line, const bk_json *quantity)
{
    add_number(line, bk_json_get(quantity, "value"));
    add_number(line, bk_json_get(quantity, "sd"));
}

static void add_warnings(bk_csv_line *line, const bk_json *warnings)
{
    char codes[1024] = "";
    for (size_t i = 0; i < bk_json_count(warnings); i++) {
        const size_t n = strlen(codes);
        bk_format(codes + n, sizeof codes - n, "%s%s", n ? " " : "", bk_json_text(bk_json_get(bk_json_at(warnings, i), "code")));
    }
    bk_csv_line_add(line, codes);
}

/* answer: NULL when the row failed. */
static void make_row(bk_csv_line *line, const bk_batch_row *row, const bk_json *answer, const char *reason)
{
    char frame[16];
    const bk_json *scale = bk_json_get(answer, "calibration"), *segments = bk_json_get(answer, "segments");
    bk_format(frame, sizeof frame, "%d", (int)row->frame);
    bk_csv_line_add(line, row->file);
    bk_csv_line_add(line, frame);
    bk_csv_line_add(line, answer ? "ok" : "failed");
    bk_csv_line_add(line, reason);
    bk_csv_line_add(line, bk_json_text(bk_json_get(answer, "medina")));
    for (int k = 0; k < BK_LIMBS; k++)
        for (int i = 0; limb_values[i]; i++)
            add_pair(line, bk_json_get(bk_json_get(segments, bk_limb_name(k)), limb_values[i]));
    for (int i = 0; angles[i]; i++)
        add_pair(line, bk_json_get(bk_json_get(answer, "angles"), angles[i]));
    add_number(line, bk_json_get(scale, "mm_per_px"));
    add_number(line, bk_json_get(scale, "sd_pct"));
    bk_csv_line_add(line, bk_json_text(bk_json_path(answer, "fit.mode")));
    add_warnings(line, bk_json_get(answer, "warnings"));
    bk_csv_line_end(line);
}

/* The answer of a worker: '+' or '-' for measured or failed, then the row. */
static size_t measure_row(void *context, int item, char *out)
{
    const batch *b = context;
    const bk_batch_row *row = &b->list.rows[item];
    bk_measure_options options = {.path = row->path, .frame = row->frame,
                                  .mm_per_px = isfinite(row->mm_per_px) ? row->mm_per_px : b->options->mm_per_px,
                                  .medina_threshold_pct = b->options->medina_threshold_pct};
    memcpy(options.click_px, row->click_px, sizeof options.click_px);
    bk_err err = {0};
    bk_json *answer = NULL;
    bk_csv_line line;
    const bk_status status = bk_app_measure(&options, &answer, &err);
    bk_csv_line_start(&line, out + 1, BK_WORK_ROOM - 1);
    make_row(&line, row, answer, status == BK_OK ? "" : err.message);
    out[0] = status == BK_OK ? '+' : '-';
    bk_json_free(answer);
    return line.n + 1;
}

static bk_status write_out(FILE *out, const char *bytes, size_t n, bk_err *err)
{
    if (fwrite(bytes, 1, n, out) != n || fflush(out) != 0)
        return bk_fail(err, BK_E_IO, "the rows could not be written to standard output");
    return BK_OK;
}

static bk_status row_done(void *context, int item, const char *bytes, size_t n, const char *fault, bk_err *err)
{
    batch *b = context;
    if (!fault && n > 0) {
        b->failed += bytes[0] != '+';
        return write_out(b->out, bytes + 1, n - 1, err);
    }
    const bk_arena_mark mark = bk_arena_take_mark(&b->arena);
    char *text = BK_NEW(&b->arena, BK_WORK_ROOM, char, err);
    if (!text)
        return err->status;
    bk_csv_line line;
    bk_csv_line_start(&line, text, BK_WORK_ROOM);
    make_row(&line, &b->list.rows[item], NULL, fault ? fault : "no answer");
    b->failed++;
    const bk_status status = write_out(b->out, line.text, line.n, err);
    bk_arena_rewind(&b->arena, mark);
    return status;
}

static bk_status run(batch *b, bk_err *err)
{
    char header[4096];
    bk_csv_line line;
    bk_status status = bk_batch_list_read(b->options->list, &b->arena, &b->list, err);
    if (status != BK_OK)
        return status;
    bk_csv_line_start(&line, header, sizeof header);
    make_header(&line);
    status = write_out(b->out, line.text, line.n, err);
    const bk_work work = {b->list.n, b->options->jobs, b, measure_row, row_done};
    if (status == BK_OK)
        status = bk_work_run(&work, err);
    if (status == BK_OK && b->failed)
        status = bk_fail(err, BK_E_NOTHING, "%d of %d rows could not be measured, column reason says why", b->failed, b->list.n);
    return status;
}

bk_status bk_app_batch(const bk_batch_options *options, FILE *out, bk_err *err)
{
    batch b = {.options = options, .out = out};
    bk_arena_init(&b.arena, MEMORY_CAP);
    const bk_status status = run(&b, err);
    bk_arena_clear(&b.arena);
    return status;
}
