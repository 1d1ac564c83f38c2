/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/report.h"

#include <stdlib.h>
#include <string.h>

#include "app/app.h"
#include "app/ask.h"
#include "app/case.h"
#include "app/picture.h"
#include "base/file.h"
#include "report/report.h"

#define MEMORY_CAP ((size_t)512 * 1024 * 1024)

/* The frame of the cine that the measurement names by its hash. */
static bk_status find_picture(const bk_report_job *job, const bk_json *measurement, bk_arena *arena,
                              bk_report_picture *out, bk_err *err)
{
    const char *wanted = bk_json_text(bk_json_path(measurement, "source.file_sha256"));
    for (int i = 0; i < job->cines_n; i++) {
        char sha[65];
        bk_status status = bk_file_sha256(job->cines[i], sha, err);
        if (status != BK_OK)
            return status;
        if (strcmp(sha, wanted) == 0)
            return bk_app_picture(job->cines[i], (int32_t)bk_json_number(bk_json_path(measurement, "source.frame")), arena, out, err);
    }
    return bk_fail(err, BK_E_DATA, "none of the %d cine files is the measured one (SHA-256 %.12s...)", job->cines_n, wanted);
}

static bk_status write_both(const bk_report_job *job, const bk_report_input *input, bk_err *err)
{
    bk_report_bytes html = {0}, pdf = {0};
    bk_status status = job->html ? bk_report_html(input, &html, err) : BK_OK;
    if (status == BK_OK && job->pdf)
        status = bk_report_pdf(input, &pdf, err);
    if (status == BK_OK && job->html)
        status = bk_file_write(job->html, html.bytes, html.n, err);
    if (status == BK_OK && job->pdf)
        status = bk_file_write(job->pdf, pdf.bytes, pdf.n, err);
    free(html.bytes);
    free(pdf.bytes);
    return status;
}

/* A follow-up sheet belongs to a procedure: the case says something of one. */
static bool has_been_done(const bk_json *doc)
{
    static const char *const parts[] = {"procedure", "log", "labs", "injury"};
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (bk_json_count(bk_json_get(doc, parts[i])) > 0)
            return true;
    return false;
}

static bk_status report(const bk_report_job *job, const bk_json *doc, const bk_case *c, bk_arena *arena, bk_err *err)
{
    bk_facts facts;
    bk_report_picture picture;
    bk_status status = bk_app_case_facts(c, arena, &facts, err);
    if (status != BK_OK)
        return status;
    const bk_json *measurement = facts.measurement < 0 ? NULL : bk_json_at(c->measurements, (size_t)facts.measurement);
    if (job->cines_n > 0 && !measurement)
        return bk_fail(err, BK_E_NOTHING, "the case holds no baseline measurement to find in the cine (case --add M.json)");
    if (job->cines_n > 0)
        status = find_picture(job, measurement, arena, &picture, err);
    static const char *const topics[] = {"devices", "indication", "protect", "strategies", "flow", "pause", "result", "injury"};
    enum { TOPICS = sizeof topics / sizeof topics[0] };
    bk_json *answers[TOPICS] = {NULL};
    for (int i = 0; i < TOPICS && status == BK_OK; i++) {
        const bk_ask ask = {topics[i], NULL, 0, 0, 0};
        if ((strcmp(topics[i], "injury") == 0 && !has_been_done(doc)) ||
            (strcmp(topics[i], "result") == 0 && bk_json_count(bk_json_get(doc, "result")) == 0) ||
            (strcmp(topics[i], "pause") == 0 && !measurement)) /* the case sheet then stands alone, on one page */
            continue;
        status = bk_app_ask_with(&ask, job->shelf, doc, &answers[i], err);
    }
    const bk_report_input input = {.case_doc = doc, .measurement = measurement, .devices = answers[0], .indication = answers[1],
                                   .protect = answers[2], .strategies = answers[3], .flow = answers[4], .pause = answers[5],
                                   .result = answers[6], .injury = answers[7], .picture = job->cines_n > 0 ? &picture : NULL,
                                   .engine = bk_engine, .caution = bk_caution,
                                   .date = bk_json_text(bk_json_get(measurement, "acquired_at"))};
    if (status == BK_OK)
        status = write_both(job, &input, err);
    for (int i = 0; i < TOPICS; i++)
        bk_json_free(answers[i]);
    return status;
}

bk_status bk_app_report(const bk_report_job *job, bk_err *err)
{
    bk_arena arena;
    bk_json *doc = NULL;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_case *c = BK_NEW(&arena, 1, bk_case, err);
    bk_status status = c ? bk_app_case_read(job->case_path, &arena, &doc, c, err) : err->status;
    if (status == BK_OK)
        status = report(job, doc, c, &arena, err);
    bk_json_free(doc);
    bk_arena_clear(&arena);
    return status;
}
