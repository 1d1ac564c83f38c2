/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the store keeps beside a document: facts for the list, and the cines that it names. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "app/case.h"
#include "app/cases_inside.h"
#include "base/file.h"
#include "dicom/dicom.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)

bk_status bk__must_be_new(const char *path, bk_err *err)
{
    if (access(path, F_OK) == 0)
        return bk_fail(err, BK_E_USAGE, "%s exists, the name of a new file was expected", path);
    return BK_OK;
}

static bk_status check(const bk_json *doc, bk_err *err)
{
    bk_arena arena;
    bk_case c;
    bk_facts facts;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = bk_app_case_check(doc, &arena, &c, err);
    if (status == BK_OK)
        status = bk_app_case_facts(&c, &arena, &facts, err);
    bk_arena_clear(&arena);
    return status;
}

static bk_status summarise(const bk_json *doc, char **out, bk_err *err)
{
    const bk_json *measurements = bk_json_get(doc, "measurements");
    const size_t n = bk_json_count(measurements);
    const char *site = bk_json_text(bk_json_path(doc, "anatomy.site"));
    const char *stage = n ? bk_json_text(bk_json_get(bk_json_at(measurements, n - 1), "stage")) : "";
    bk_json *summary = bk_json_object();
    size_t bytes;
    bk_json_put_text(summary, "site", site[0] ? site : NULL);
    bk_json_put_text(summary, "stage", stage[0] ? stage : NULL);
    bk_json_put_integer(summary, "measured", (int64_t)n);
    const bk_status status = bk_json_write(summary, out, &bytes, err);
    bk_json_free(summary);
    return status;
}

static bk_status add_cine(bk_kept *kept, const char *sha256, bk_err *err)
{
    if (!bk_store_is_sha256(sha256))
        return BK_OK;
    const char **larger = realloc(kept->cines, (kept->cines_n + 1) * sizeof *larger);
    if (!larger)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for %zu cines", kept->cines_n + 1);
    kept->cines = larger;
    kept->cines[kept->cines_n++] = sha256;
    return BK_OK;
}

/* A measurement names its file; a list "cines" of hashes, or of objects with sha256, may name further ones.
 */
static bk_status find_cines(bk_kept *kept, bk_err *err)
{
    const bk_json *measurements = bk_json_get(kept->doc, "measurements"),
                  *cines = bk_json_get(kept->doc, "cines");
    bk_status status = BK_OK;
    for (size_t i = 0; status == BK_OK && i < bk_json_count(measurements); i++)
        status = add_cine(kept, bk_json_text(bk_json_path(bk_json_at(measurements, i), "source.file_sha256")),
                          err);
    for (size_t i = 0; status == BK_OK && bk_json_is_array(cines) && i < bk_json_count(cines); i++) {
        const bk_json *item = bk_json_at(cines, i);
        status =
            add_cine(kept, bk_json_text(bk_json_is_object(item) ? bk_json_get(item, "sha256") : item), err);
    }
    return status;
}

static bk_status put_head(bk_json *doc, int revision, bk_err *err)
{
    char id[20];
    if (!bk_json_get(doc, "schema"))
        bk_json_put_text(doc, "schema", "branchkeep.case/1");
    bk_json_put_integer(doc, "revision", revision);
    const bk_json *given = bk_json_get(doc, "case_id");
    if (given && !bk_json_is_null(given) && bk_json_text(given)[0])
        return BK_OK;
    if (given && !bk_json_is_null(given) && !bk_json_is_text(given))
        return bk_fail(err, BK_E_DATA, "case_id: %s was found, a text was expected",
                       bk_json_kind_name(given));
    const bk_status status = bk_app_case_new_id(id, err);
    if (status == BK_OK)
        bk_json_put_text(doc, "case_id", id);
    return status;
}

bk_status bk__kept_make(const bk_json *document, int revision, bk_kept *out, bk_err *err)
{
    size_t n;
    *out = (bk_kept){0};
    if (!bk_json_is_object(document))
        return bk_fail(err, BK_E_DATA, "%s was found, a case document was expected",
                       bk_json_kind_name(document));
    out->doc = bk_json_copy(document);
    bk_status status = put_head(out->doc, revision, err);
    if (status == BK_OK)
        status = check(out->doc, err);
    if (status == BK_OK)
        status = find_cines(out, err);
    if (status == BK_OK)
        status = bk_json_write(out->doc, &out->text, &n, err);
    if (status == BK_OK)
        status = summarise(out->doc, &out->summary, err);
    if (status != BK_OK)
        bk__kept_clear(out);
    return status;
}

void bk__kept_clear(bk_kept *kept)
{
    bk_json_free(kept->doc);
    bk_json_text_free(kept->text);
    bk_json_text_free(kept->summary);
    free(kept->cines);
    *kept = (bk_kept){0};
}

const char *bk__kept_id(const bk_kept *kept)
{
    return bk_json_text(bk_json_get(kept->doc, "case_id"));
}

static bk_status first_frame_opens(bk_dicom *file, const bk_dicom_info *info, bk_err *err)
{
    const size_t n = (size_t)info->rows * (size_t)info->cols;
    uint16_t *px = malloc(n * sizeof *px);
    const bk_status status = px ? bk_dicom_frame(file, 1, px, n, err)
                                : bk_fail(err, BK_E_INTERNAL, "out of memory for %zu pixels", n);
    free(px);
    return status;
}

bk_status bk__look_at_cine(const char *path, char **summary, bk_err *err)
{
    bk_dicom *file;
    bk_dicom_info info;
    size_t n;
    bk_status status = bk_dicom_open(path, &file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(file, &info);
    status = first_frame_opens(file, &info, err);
    bk_dicom_close(file);
    if (status != BK_OK)
        return status;
    bk_json *out = bk_json_object();
    bk_json_put_integer(out, "frames", info.frames);
    bk_json_put_integer(out, "rows", info.rows);
    bk_json_put_integer(out, "columns", info.cols);
    bk_json_put_real(out, "primary_deg", info.primary_deg);
    bk_json_put_real(out, "secondary_deg", info.secondary_deg);
    status = bk_json_write(out, summary, &n, err);
    bk_json_free(out);
    return status;
}
