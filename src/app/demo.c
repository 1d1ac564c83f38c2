/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/demo.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "app/app.h"
#include "app/ask.h"
#include "app/case.h"
#include "app/measure.h"
#include "app/phantom.h"
#include "app/report.h"
#include "base/format.h"
#include "core/limb.h"

#define SEED 67
#define CASE_FILE "demo-lcx-marginal.json"
#define PATH_ROOM 512

static const char *const files[] = {"view1.dcm", "truth.json", "measurement.json", "overlay.png", CASE_FILE, "report.html", "report.pdf"};

static char *path_in(char out[PATH_ROOM], const char *dir, const char *name)
{
    bk_format(out, PATH_ROOM, "%s/%s", dir, name);
    return out;
}

static bk_status clear_folder(const char *dir, bk_err *err)
{
    char path[PATH_ROOM];
    if (strlen(dir) > PATH_ROOM - 40)
        return bk_fail(err, BK_E_USAGE, "a folder name of %zu bytes was found, a shorter one was expected", strlen(dir));
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        unlink(path_in(path, dir, files[i]));
    return BK_OK;
}

/* Draw the angiogram; *truth is what is known about it. */
static bk_status draw(const char *dir, bk_json **truth, bk_err *err)
{
    bk_phantom_options options = bk_phantom_defaults(SEED);
    bk_json *answer;
    char path[PATH_ROOM];
    *truth = NULL;
    bk_phantom_demo(&options);
    bk_status status = bk_app_phantom(&options, "lcx_marginal", dir, &answer, err);
    if (status != BK_OK)
        return status;
    bk_json_free(answer);
    return bk_json_read_file(path_in(path, dir, "truth.json"), truth, err);
}

/* The clicks of the invented operator are part of the drawing. */
static bk_status measure(const char *dir, const bk_json *truth, bk_json **out, bk_err *err)
{
    char cine[PATH_ROOM], overlay[PATH_ROOM];
    bk_measure_options options = {.path = path_in(cine, dir, "view1.dcm"), .mm_per_px = NAN, .medina_threshold_pct = NAN,
                                  .overlay_png = path_in(overlay, dir, "overlay.png"), .nitrate = BK_YES};
    options.frame = (int32_t)bk_json_number(bk_json_path(truth, "views.0.frame"));
    for (int limb = 0; limb < BK_LIMBS; limb++)
        for (size_t k = 0; k < 2; k++) {
            char key[48];
            bk_format(key, sizeof key, "views.0.clicks.%s.%zu", bk_limb_name(limb), k);
            options.click_px[limb][k] = bk_json_number(bk_json_path(truth, key));
        }
    return bk_app_measure(&options, out, err);
}

static bk_status make_case(const char *dir, const bk_json *measurement, bk_err *err)
{
    static const char *const set[] = {"case_id=demo-lcx-marginal", "patient.age_y=67", "patient.sex=male", "patient.presentation=chronic",
                                      "patient.weight_kg=82", "patient.height_cm=176", "patient.creatinine_mg_dl=1.1", "patient.haemoglobin_g_dl=14.1",
                                      "anatomy.site=lcx_marginal", "anatomy.dominance=right", "shelf=demo"};
    char path[PATH_ROOM], added[PATH_ROOM];
    bk_status status = bk_json_write_file(measurement, path_in(added, dir, "measurement.json"), err);
    const char *const add[] = {added};
    const bk_case_change change = {path_in(path, dir, CASE_FILE), true, add, 1, set, sizeof set / sizeof set[0]};
    bk_json *doc = NULL;
    if (status == BK_OK)
        status = bk_app_case_change(&change, &doc, err);
    bk_json_free(doc);
    return status;
}

static bk_status write_report(const char *dir, bk_err *err)
{
    char path[PATH_ROOM], cine[PATH_ROOM], html[PATH_ROOM], pdf[PATH_ROOM];
    const char *const cines[] = {path_in(cine, dir, "view1.dcm")};
    const bk_report_job job = {.case_path = path_in(path, dir, CASE_FILE), .cines = cines, .cines_n = 1, .html = path_in(html, dir, "report.html"), .pdf = path_in(pdf, dir, "report.pdf")};
    return bk_app_report(&job, err);
}

static double value_of(const bk_json *doc, const char *limb, const char *key)
{
    return bk_json_number(bk_json_get(bk_json_get(bk_json_get(bk_json_get(doc, "segments"), limb), key), "value"));
}

static void print_answer(const bk_json *m, const bk_json *devices, const char *dir, FILE *out)
{
    fprintf(out, "Invented case: a 67-year-old man, left circumflex / obtuse marginal; one view.\n\n");
    fprintf(out, "%-14s %10s %8s %9s\n", "limb", "reference", "MLD", "stenosis");
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const char *name = bk_limb_name(limb);
        fprintf(out, "%-14s %7.2f mm %5.2f mm %7.0f %%\n", name, value_of(m, name, "reference_mm"), value_of(m, name, "mld_mm"),
                value_of(m, name, "stenosis_pct"));
    }
    fprintf(out, "Medina %s\n\n", bk_json_text(bk_json_get(m, "medina")));
    const bk_json *items = bk_json_get(devices, "items");
    for (size_t i = 0; i < bk_json_count(items); i++) {
        const bk_json *item = bk_json_at(items, i);
        const char *shelf = bk_json_text(bk_json_path(item, "shelf_match.0.name"));
        if (bk_json_is_number(bk_json_get(item, "french")))
            fprintf(out, "guide          %s\n", bk_json_text(bk_json_get(item, "why")));
        if (!bk_json_is_number(bk_json_get(item, "diameter_mm"))) // the kit, which has no size from a reference
            continue;
        fprintf(out, "%-14s %5.2f mm  %s%s%s\n", bk_json_text(bk_json_get(item, "use")), bk_json_number(bk_json_get(item, "diameter_mm")),
                bk_json_text(bk_json_get(item, "why")), shelf[0] ? "; " : "", shelf);
    }
    fprintf(out, "stent length   held back: %s\n\n%s\n\n", bk_json_text(bk_json_path(items, "0.hold")), bk_caution);
    fprintf(out, "On paper: %s/report.pdf   as a page: %s/report.html   (open it: xdg-open %s/report.html)\n", dir, dir, dir);
    fprintf(out, "To measure on it yourself: branchkeep serve   prints the address of the page; open %s/view1.dcm there\n", dir);
}

static bk_status size_devices(const char *dir, bk_json **out, bk_err *err)
{
    char path[PATH_ROOM];
    bk_json *doc;
    const bk_ask ask = {"devices", NULL, 0, 0, 0};
    bk_status status = bk_json_read_file(path_in(path, dir, CASE_FILE), &doc, err);
    if (status != BK_OK)
        return status;
    status = bk_app_ask(&ask, doc, out, err);
    bk_json_free(doc);
    return status;
}

bk_status bk_app_demo(const char *dir, FILE *out, bk_err *err)
{
    bk_json *truth = NULL, *m = NULL, *devices = NULL;
    bk_status status = clear_folder(dir, err);
    if (status == BK_OK)
        status = draw(dir, &truth, err);
    if (status == BK_OK)
        status = measure(dir, truth, &m, err);
    if (status == BK_OK)
        status = make_case(dir, m, err);
    if (status == BK_OK)
        status = size_devices(dir, &devices, err);
    if (status == BK_OK)
        status = write_report(dir, err);
    if (status == BK_OK)
        print_answer(m, devices, dir, out);
    bk_json_free(truth);
    bk_json_free(m);
    bk_json_free(devices);
    return status;
}

/* ---- self-test ---- */

static int check(FILE *out, const char *what, double got, double want, double within)
{
    const bool ok = fabs(got - want) <= within;
    fprintf(out, "%-4s %-26s %8.3f, truth %8.3f, within %.2f\n", ok ? "ok" : "FAIL", what, got, want, within);
    return !ok;
}

static int compare(FILE *out, const bk_json *truth, const bk_json *m)
{
    int failed = 0;
    for (int limb = 0; limb < BK_LIMBS; limb++) {
        const char *name = bk_limb_name(limb);
        const bk_json *known = bk_json_get(bk_json_path(truth, "views.0.segments"), name);
        char what[48];
        bk_format(what, sizeof what, "%s MLD [mm]", name);
        failed += check(out, what, value_of(m, name, "mld_mm"), bk_json_number(bk_json_get(known, "mld_mm")), 0.15);
        bk_format(what, sizeof what, "%s stenosis [%%]", name);
        failed += check(out, what, value_of(m, name, "stenosis_pct"), bk_json_number(bk_json_get(known, "stenosis_pct")), 6);
    }
    const char *got = bk_json_text(bk_json_get(m, "medina")), *want = bk_json_text(bk_json_path(truth, "views.0.medina"));
    const bool same = strcmp(got, want) == 0;
    fprintf(out, "%-4s Medina %s, truth %s\n", same ? "ok" : "FAIL", got, want);
    return failed + !same;
}

bk_status bk_app_selftest(FILE *out, bk_err *err)
{
    char dir[] = "/tmp/branchkeep-selftest-XXXXXX";
    bk_json *truth = NULL, *m = NULL;
    if (!mkdtemp(dir))
        return bk_fail(err, BK_E_IO, "no temporary folder could be made");
    bk_status status = draw(dir, &truth, err);
    if (status == BK_OK)
        status = measure(dir, truth, &m, err);
    if (status == BK_OK) {
        const int failed = compare(out, truth, m);
        if (failed)
            status = bk_fail(err, BK_E_NOTHING, "%d self-test checks failed, none was expected to", failed);
    }
    bk_json_free(truth);
    bk_json_free(m);
    (void)!clear_folder(dir, &(bk_err){0});
    rmdir(dir);
    return status;
}
