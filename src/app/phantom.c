/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/phantom.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "app/app.h"
#include "base/file.h"
#include "dicom/dicom.h"

#define PATH_MAX_BYTES 4096

static bk_status make_folder(const char *dir, bk_err *err)
{
    struct stat what;
    if (mkdir(dir, 0777) == 0 || (errno == EEXIST && stat(dir, &what) == 0 && S_ISDIR(what.st_mode)))
        return BK_OK;
    return bk_fail(err, BK_E_IO, "folder \"%s\" cannot be made: %s", dir, strerror(errno));
}

static bk_status join_path(const char *dir, const char *name, char out[PATH_MAX_BYTES], bk_err *err)
{
    if (snprintf(out, PATH_MAX_BYTES, "%s/%s", dir, name) < PATH_MAX_BYTES)
        return BK_OK;
    return bk_fail(err, BK_E_USAGE, "a folder name of %zu bytes was found, under %d were expected",
                   strlen(dir), PATH_MAX_BYTES);
}

typedef struct source {
    bk_phantom *phantom;
    int view;
    size_t pixels;
} source;

static bk_status next_frame(void *context, int32_t frame, uint16_t *px, bk_err *err)
{
    source *s = context;
    return bk_phantom_frame(s->phantom, s->view, frame, px, s->pixels, err);
}

static double unless(unsigned missing, unsigned flag, double value)
{
    return missing & flag ? (double)NAN : value;
}

static bk_intensity intensity_of(const bk_phantom_options *o)
{
    if (o->missing & BK_PHANTOM_MISSING_INTENSITY)
        return BK_INTENSITY_ABSENT;
    switch (o->curve) {
    case BK_PHANTOM_CURVE_LINEAR:
        return BK_INTENSITY_LINEAR;
    case BK_PHANTOM_CURVE_LOG:
        return BK_INTENSITY_LOG;
    case BK_PHANTOM_CURVE_DISPLAY:
        break;
    }
    return BK_INTENSITY_DISPLAY;
}

static bk_dicom_out describe(const bk_phantom *phantom, int view)
{
    const bk_phantom_options *o = bk_phantom_used(phantom);
    const bk_phantom_geometry g = bk_phantom_geometry_of(phantom, view);
    const double spacing = unless(o->missing, BK_PHANTOM_MISSING_SPACING, g.imager_spacing_mm);
    return (bk_dicom_out){
        .rows = g.rows,
        .cols = g.cols,
        .frames = o->frames,
        .bits_stored = o->bits,
        .intensity = intensity_of(o),
        .frame_time_ms = o->frames > 1 ? bk_phantom_frame_time_ms(phantom) : (double)NAN,
        .primary_deg = unless(o->missing, BK_PHANTOM_MISSING_ANGLES, g.primary_deg),
        .secondary_deg = unless(o->missing, BK_PHANTOM_MISSING_ANGLES, g.secondary_deg),
        .sid_mm = unless(o->missing, BK_PHANTOM_MISSING_SID, g.sid_mm),
        .sod_mm = unless(o->missing, BK_PHANTOM_MISSING_SOD, g.sod_mm),
        .imager_spacing_mm = {spacing, spacing},
        .jpeg_ratio = o->jpeg_ratio,
        .patient_id = "PHANTOM",
        .patient_name = "Phantom^Digital",
        .acquired_at = view == 0 ? "2026-01-15T10:00:00" : "2026-01-15T10:02:00",
    };
}

/* A digest of the truth names the file's UIDs: other pixels, other UIDs; same pixels, same bytes. */
static bk_status digest(const bk_json *truth, int view, char out[80], bk_err *err)
{
    char *text, hex[65];
    size_t n;
    if (bk_json_write(truth, &text, &n, err) != BK_OK)
        return err->status;
    bk_sha256(text, n, hex);
    bk_json_text_free(text);
    snprintf(out, 80, "%s-%d", hex, view);
    return BK_OK;
}

static bk_status write_view(bk_phantom *phantom, int view, const bk_json *truth, const char *path,
                            bk_err *err)
{
    bk_dicom_out what = describe(phantom, view);
    source s = {phantom, view, (size_t)what.rows * (size_t)what.cols};
    int32_t r_waves[BK_PHANTOM_FRAMES_MAX];
    const size_t levels = (size_t)1 << what.bits_stored;
    char uid_seed[80];
    if (digest(truth, view, uid_seed, err) != BK_OK)
        return err->status;
    float *lut = malloc(levels * sizeof *lut);
    if (!lut)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for a grey scale");
    what.uid_seed = uid_seed;
    what.r_waves_n = bk_phantom_r_waves(phantom, r_waves, BK_PHANTOM_FRAMES_MAX);
    what.r_waves = r_waves;
    what.modality_lut = bk_phantom_linear_values(phantom, lut, levels) ? lut : NULL;
    const bk_status status = bk_dicom_write(path, &what, next_frame, &s, err);
    free(lut);
    return status;
}

static bk_json *answer_of(const bk_phantom *phantom, const bk_json *truth, const char *site)
{
    bk_json *answer = bk_json_object(), *files = bk_json_array();
    bk_json_put_text(answer, "schema", "branchkeep.phantom/1");
    bk_json_put_text(answer, "engine", bk_engine);
    bk_json_put_integer(answer, "seed", (int64_t)bk_phantom_used(phantom)->seed);
    bk_json_put_text(answer, "medina", bk_json_text(bk_json_get(truth, "medina")));
    bk_json_put_text(answer, "site", site);
    for (int i = 0; i < bk_phantom_views(phantom); i++)
        bk_json_push(files, bk_json_new_text(i ? "view2.dcm" : "view1.dcm"));
    bk_json_push(files, bk_json_new_text("truth.json"));
    bk_json_put(answer, "files", files);
    return answer;
}

static bk_status write_all(bk_phantom *phantom, const char *site, const char *dir, bk_json **answer,
                           bk_err *err)
{
    char path[PATH_MAX_BYTES];
    bk_json *truth = bk_phantom_truth(phantom);
    bk_json_put_text(truth, "site", site);
    bk_status status = make_folder(dir, err);
    for (int i = 0; i < bk_phantom_views(phantom) && status == BK_OK; i++) {
        status = join_path(dir, i ? "view2.dcm" : "view1.dcm", path, err);
        if (status == BK_OK)
            status = write_view(phantom, i, truth, path, err);
    }
    if (status == BK_OK)
        status = join_path(dir, "truth.json", path, err);
    if (status == BK_OK)
        status = bk_json_write_file(truth, path, err);
    if (status == BK_OK)
        *answer = answer_of(phantom, truth, site);
    bk_json_free(truth);
    return status;
}

bk_status bk_app_phantom(const bk_phantom_options *options, const char *site, const char *dir,
                         bk_json **answer, bk_err *err)
{
    *answer = NULL;
    bk_phantom *phantom;
    bk_status status = bk_phantom_new(options, &phantom, err);
    if (status != BK_OK)
        return status;
    status = write_all(phantom, site, dir, answer, err);
    bk_phantom_free(phantom);
    return status;
}
