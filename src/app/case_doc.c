/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/case_doc.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "app/app.h"
#include "base/evidence.h"
#include "core/anatomy/path_length.h"

#define ARENA_BYTES ((size_t)64 * 1024 * 1024)

void bk_case_close(bk_case_doc *doc)
{
    bk_json_free(doc->json);
    bk_arena_clear(&doc->arena);
    *doc = (bk_case_doc){0};
}

/* ---- reading the structs out of the JSON ---- */

static bk_status expect_schema(const bk_json *json, const char *wanted, bk_err *err)
{
    const bk_json *schema = bk_json_get(json, "schema");
    if (!schema || strcmp(bk_json_text(schema), wanted) == 0)
        return BK_OK;
    return bk_fail(err, BK_E_DATA, "schema \"%s\" was found, %s was expected", bk_json_text(schema), wanted);
}

static bk_status read_measured(bk_case_doc *doc, bk_err *err)
{
    const bk_json *list = doc->input.measurements;
    if (list && !bk_json_is_array(list))
        return bk_fail(err, BK_E_DATA, "measurements: %s was found, an array was expected",
                       bk_json_kind_name(list));
    doc->measured_n = bk_json_count(list);
    doc->measured = BK_NEW(&doc->arena, doc->measured_n, bk_measured, err);
    if (!doc->measured)
        return err->status;
    for (size_t i = 0; i < doc->measured_n; i++) {
        const bk_json *one = bk_json_at(list, i);
        char place[40];
        snprintf(place, sizeof place, "measurements.%zu", i);
        bk_status status = expect_schema(one, BK_MEASUREMENT_SCHEMA, err);
        if (status == BK_OK)
            status =
                bk_fields_read(bk_measured_fields, one, BK_KEYS_KEPT, &doc->arena, &doc->measured[i], err);
        if (status != BK_OK)
            return bk_fail_in(err, place);
    }
    return BK_OK;
}

/* Arc length along points_mm, when there are as many points as diameters. */
static bk_status read_positions(const bk_json *limb, bk_solid_limb *out, bk_arena *arena, bk_err *err)
{
    const bk_json *points = bk_json_get(limb, "points_mm");
    const size_t n = bk_json_count(points);
    if (n == 0 || n != out->diameter_mm.n)
        return BK_OK;
    double *xyz = BK_NEW(arena, 3 * n, double, err);
    double *position = BK_NEW(arena, n, double, err);
    if (!xyz || !position)
        return err->status;
    for (size_t i = 0; i < 3 * n; i++) {
        xyz[i] = bk_json_number(bk_json_at(bk_json_at(points, i / 3), i % 3));
        if (isnan(xyz[i]))
            return bk_fail(err, BK_E_DATA, "points_mm.%zu was found without three numbers", i / 3);
    }
    bk_path_length(xyz, n, position);
    out->position_mm = (bk_list){position, n};
    return BK_OK;
}

static bk_status read_solid(bk_case_doc *doc, bk_err *err)
{
    const bk_json *json = doc->input.solid;
    if (!json)
        return BK_OK;
    bk_solid *solid = BK_NEW(&doc->arena, 1, bk_solid, err);
    if (!solid)
        return err->status;
    bk_status status = expect_schema(json, BK_SOLID_SCHEMA, err);
    if (status == BK_OK)
        status = bk_fields_read(bk_solid_fields, json, BK_KEYS_KEPT, &doc->arena, solid, err);
    bk_solid_limb *limbs[] = {&solid->segments.proximal, &solid->segments.distal, &solid->segments.side};
    for (int i = 0; i < BK_LIMBS && status == BK_OK; i++)
        status = read_positions(bk_json_get(bk_json_get(json, "segments"), bk_limb_names[i]), limbs[i],
                                &doc->arena, err);
    if (status != BK_OK)
        return bk_fail_in(err, "solid");
    doc->solid = solid;
    return BK_OK;
}

bk_status bk_case_take(bk_json *json, bk_case_doc *doc, bk_err *err)
{
    bk_err own = {0};
    if (!err)
        err = &own;
    *doc = (bk_case_doc){.json = json};
    bk_arena_init(&doc->arena, ARENA_BYTES);
    bk_status status = expect_schema(json, BK_CASE_SCHEMA, err);
    if (status == BK_OK)
        status = bk_fields_read(bk_case_fields, json, BK_KEYS_TOP_KEPT, &doc->arena, &doc->input, err);
    if (status == BK_OK)
        status = read_measured(doc, err);
    if (status == BK_OK)
        status = read_solid(doc, err);
    if (status != BK_OK)
        bk_case_close(doc);
    return status;
}

bk_status bk_case_open(const char *path, bk_case_doc *doc, bk_err *err)
{
    bk_json *json;
    *doc = (bk_case_doc){0};
    bk_status status = bk_json_read_file(path, &json, err);
    if (status != BK_OK)
        return status;
    status = bk_case_take(json, doc, err);
    return status == BK_OK ? BK_OK : bk_fail_in(err, path);
}

/* 64 random bits from the system, since ids of cases from different machines must not meet. */
static bk_status random_id(char id[24], bk_err *err)
{
    unsigned char bytes[8];
    FILE *file = fopen("/dev/urandom", "rb");
    const size_t n = file ? fread(bytes, 1, sizeof bytes, file) : 0;
    if (file)
        fclose(file);
    if (n != sizeof bytes)
        return bk_fail(err, BK_E_IO, "no random numbers from the system, /dev/urandom was expected");
    for (size_t i = 0; i < sizeof bytes; i++)
        snprintf(id + 2 * i, 3, "%02x", bytes[i]);
    return BK_OK;
}

bk_status bk_case_start(bk_case_doc *doc, bk_err *err)
{
    char id[24];
    *doc = (bk_case_doc){0};
    const bk_status status = random_id(id, err);
    if (status != BK_OK)
        return status;
    bk_json *json = bk_json_object();
    bk_json_put_text(json, "schema", BK_CASE_SCHEMA);
    bk_json_put_text(json, "case_id", id);
    bk_json_put_integer(json, "revision", 0); // counted up when it is first written
    bk_json_put_text(json, "created_with", bk_engine);
    static const char *const objects[] = {"patient", "anatomy", "decision", "injury", "result"};
    static const char *const arrays[] = {"physiology", "imaging", "measurements", "log", "labs"};
    for (size_t i = 0; i < 5; i++)
        bk_json_put(json, objects[i], bk_json_object());
    for (size_t i = 0; i < 5; i++)
        bk_json_put(json, arrays[i], bk_json_array());
    bk_json_put_null(json, "solid");
    bk_json_put_text(json, "shelf", "default");
    return bk_case_take(json, doc, err);
}

/* ---- changes: made on a copy, which takes the place of the document only when it reads well ---- */

static bk_status replace(bk_case_doc *doc, bk_json *changed, bk_err *err)
{
    bk_case_doc next;
    const bk_status status = bk_case_take(changed, &next, err);
    if (status != BK_OK)
        return status;
    bk_case_close(doc);
    *doc = next;
    return BK_OK;
}

static bk_status set_one(bk_json *json, const char *setting, bk_err *err)
{
    char path[128];
    const char *equals = strchr(setting, '=');
    if (!equals || (size_t)(equals - setting) >= sizeof path)
        return bk_fail(err, BK_E_USAGE, "\"%s\" was found, PATH=VALUE was expected", setting);
    snprintf(path, sizeof path, "%.*s", (int)(equals - setting), setting);
    return bk_fields_set(bk_case_fields, json, path, equals + 1, err);
}

bk_status bk_case_set(bk_case_doc *doc, const char *const *settings, int n, bk_err *err)
{
    bk_json *changed = bk_json_copy(doc->json);
    for (int i = 0; i < n; i++) {
        const bk_status status = set_one(changed, settings[i], err);
        if (status != BK_OK) {
            bk_json_free(changed);
            return status;
        }
    }
    return replace(doc, changed, err);
}

static bk_status same_patient(const bk_case_doc *doc, const bk_json *added, bk_err *err)
{
    const char *hash = bk_json_text(bk_json_path(added, "source.patient_hash"));
    for (size_t i = 0; i < doc->measured_n; i++) {
        const char *known = doc->measured[i].source.patient_hash;
        if (hash[0] && known[0] && strcmp(hash, known) != 0)
            return bk_fail(
                err, BK_E_DATA,
                "a measurement of another patient was found, the patient of measurements.%zu was expected",
                i);
    }
    return BK_OK;
}

static bk_status put_added(const bk_case_doc *doc, bk_json *added, bk_json **changed, bk_err *err)
{
    const char *schema = bk_json_text(bk_json_get(added, "schema"));
    const bool measurement = strcmp(schema, BK_MEASUREMENT_SCHEMA) == 0;
    bk_status status = BK_OK;
    *changed = NULL;
    if (!measurement && strcmp(schema, BK_SOLID_SCHEMA) != 0)
        status = bk_fail(
            err, BK_E_DATA,
            "schema \"%s\" was found, " BK_MEASUREMENT_SCHEMA " or " BK_SOLID_SCHEMA " was expected", schema);
    else if (measurement)
        status = same_patient(doc, added, err);
    if (status != BK_OK) {
        bk_json_free(added);
        return status;
    }
    *changed = bk_json_copy(doc->json);
    if (!measurement) {
        bk_json_put(*changed, "solid", added);
        return BK_OK;
    }
    if (!bk_json_is_array(bk_json_get(*changed, "measurements")))
        bk_json_put(*changed, "measurements", bk_json_array());
    bk_json_push(bk_json_get(*changed, "measurements"), added);
    return BK_OK;
}

bk_status bk_case_add_file(bk_case_doc *doc, const char *path, bk_err *err)
{
    bk_json *added, *changed;
    bk_status status = bk_json_read_file(path, &added, err);
    if (status != BK_OK)
        return status;
    status = put_added(doc, added, &changed, err);
    if (status == BK_OK)
        status = replace(doc, changed, err);
    return status == BK_OK ? BK_OK : bk_fail_in(err, path);
}

bk_status bk_case_save(bk_case_doc *doc, const char *path, bk_err *err)
{
    const int before = doc->input.revision == BK_INTEGER_ABSENT ? 0 : doc->input.revision;
    bk_json_put_integer(doc->json, "revision", before + 1);
    const bk_status status = bk_json_write_file(doc->json, path, err);
    doc->input.revision = before + 1;
    return status;
}

bk_facts bk_case_facts(const bk_case_doc *doc)
{
    const bk_facts_input input = {
        .anatomy = &doc->input.anatomy,
        .measured = doc->measured,
        .measured_n = doc->measured_n,
        .solid = doc->solid,
        .visual_stenosis_sd_pct = bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("visual_stenosis_sd")),
        .solid_length_sd_mm = bk_evidence_sd(bk_evidence_builtin(), BK_EVIDENCE("length_accuracy_two_views")),
    };
    return bk_facts_resolve(&input);
}
