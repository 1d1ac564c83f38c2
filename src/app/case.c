/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/case.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "app/app.h"
#include "base/evidence.h"
#include "base/file.h"
#include "base/format.h"
#include "core/anatomy/path_length.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define SCHEMA "branchkeep.case/1"
#define MEASUREMENT "branchkeep.measurement/1"
#define SOLID "branchkeep.solid/1"

/* A document may leave its schema out when its place already says what it is. */
static bk_status expect_schema(const bk_json *doc, const char *wanted, bk_err *err)
{
    const bk_json *schema = bk_json_get(doc, "schema");
    if (!schema || strcmp(bk_json_text(schema), wanted) == 0)
        return BK_OK;
    return bk_fail(err, BK_E_DATA, "schema \"%.60s\" was found, %s was expected", bk_json_text(schema), wanted);
}

bk_status bk_app_case_check(const bk_json *doc, bk_arena *arena, bk_case *out, bk_err *err)
{
    const bk_status status = expect_schema(doc, SCHEMA, err);
    return status == BK_OK ? bk_fields_read(bk_case_fields, doc, BK_KEYS_TOP_KEPT, arena, out, err) : status;
}

bk_status bk_app_case_read(const char *path, bk_arena *arena, bk_json **doc, bk_case *out, bk_err *err)
{
    bk_status status = bk_json_read_file(path, doc, err);
    if (status != BK_OK)
        return status;
    status = bk_app_case_check(*doc, arena, out, err);
    if (status == BK_OK)
        return BK_OK;
    bk_json_free(*doc);
    *doc = NULL;
    return bk_fail_in(err, path);
}

bk_status bk_app_case_set(bk_json *doc, const char *assignment, bk_err *err)
{
    char path[160];
    const char *equals = strchr(assignment, '=');
    if (!equals || equals == assignment || (size_t)(equals - assignment) >= sizeof path)
        return bk_fail(err, BK_E_USAGE, "\"%s\" was found, PATH=VALUE was expected", assignment);
    memcpy(path, assignment, (size_t)(equals - assignment));
    path[equals - assignment] = '\0';
    return bk_fields_set(bk_case_fields, doc, path, equals + 1, err);
}

static bk_status read_measurements(const bk_json *list, bk_arena *arena, bk_measured **out, bk_err *err)
{
    if (list && !bk_json_is_array(list))
        return bk_fail(err, BK_E_DATA, "measurements: %s was found, an array was expected", bk_json_kind_name(list));
    const size_t n = bk_json_count(list);
    *out = BK_NEW(arena, n, bk_measured, err);
    bk_status status = *out ? BK_OK : err->status;
    for (size_t i = 0; status == BK_OK && i < n; i++) {
        char place[40];
        status = expect_schema(bk_json_at(list, i), MEASUREMENT, err);
        if (status == BK_OK)
            status = bk_fields_read(bk_measured_fields, bk_json_at(list, i), BK_KEYS_KEPT, arena, &(*out)[i], err);
        bk_format(place, sizeof place, "measurements.%zu", i);
        if (status != BK_OK)
            bk_fail_in(err, place);
    }
    return status;
}

bk_status bk_app_case_measured(const bk_case *c, bk_arena *arena, bk_measured **out, bk_err *err)
{
    return read_measurements(c->measurements, arena, out, err);
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

static bk_status read_solid(const bk_json *json, bk_arena *arena, bk_solid **out, bk_err *err)
{
    *out = NULL;
    if (!json)
        return BK_OK;
    bk_solid *solid = BK_NEW(arena, 1, bk_solid, err);
    bk_status status = solid ? expect_schema(json, SOLID, err) : err->status;
    if (status == BK_OK)
        status = bk_fields_read(bk_solid_fields, json, BK_KEYS_KEPT, arena, solid, err);
    if (status == BK_OK) {
        bk_solid_limb *limbs[] = {&solid->segments.proximal, &solid->segments.distal, &solid->segments.side};
        for (int i = 0; status == BK_OK && i < BK_LIMBS; i++)
            status = read_positions(bk_json_get(bk_json_get(json, "segments"), bk_limb_name(i)), limbs[i], arena, err);
    }
    *out = solid;
    return status == BK_OK ? BK_OK : bk_fail_in(err, "solid");
}

bk_status bk_app_case_facts(const bk_case *c, bk_arena *arena, bk_facts *out, bk_err *err)
{
    const bk_evidence_set *evidence = bk_evidence_builtin();
    bk_measured *measured;
    bk_solid *solid = NULL;
    bk_err own = {0};
    err = err ? err : &own;
    bk_status status = read_measurements(c->measurements, arena, &measured, err);
    if (status == BK_OK)
        status = read_solid(c->solid, arena, &solid, err);
    if (status != BK_OK)
        return status;
    const bk_facts_input input = {
        .anatomy = &c->anatomy,
        .measured = measured,
        .measured_n = bk_json_count(c->measurements),
        .solid = solid,
        .visual_stenosis_sd_pct = bk_evidence_value(evidence, BK_EVIDENCE("visual_stenosis_sd")),
        .solid_length_sd_mm = bk_evidence_sd(evidence, BK_EVIDENCE("length_accuracy_two_views")),
    };
    *out = bk_facts_resolve(&input);
    return BK_OK;
}

/* 64 random bits from the system: ids of cases from different machines must not meet, and a file's name, which may
   be a patient's, is no id. */
bk_status bk_app_case_new_id(char id[20], bk_err *err)
{
    unsigned char bytes[8];
    FILE *file = fopen("/dev/urandom", "rb");
    const size_t n = file ? fread(bytes, 1, sizeof bytes, file) : 0;
    if (file)
        fclose(file);
    if (n != sizeof bytes)
        return bk_fail(err, BK_E_IO, "no random numbers were found, /dev/urandom was expected");
    for (size_t i = 0; i < sizeof bytes; i++)
        bk_format(id + 2 * i, 3, "%02x", bytes[i]);
    return BK_OK;
}

static bk_status empty_case(bk_json **out, bk_err *err)
{
    char id[20];
    const bk_status status = bk_app_case_new_id(id, err);
    if (status != BK_OK)
        return status;
    *out = bk_json_object();
    bk_json_put_text(*out, "schema", SCHEMA);
    bk_json_put_text(*out, "case_id", id);
    bk_json_put_integer(*out, "revision", 0);
    bk_json_put_text(*out, "created_with", bk_engine);
    return BK_OK;
}

/* The whole document, and what it carries, must read well. */
static bk_status verify(const bk_json *doc, bk_arena *arena, bk_case *out, bk_err *err)
{
    bk_facts facts;
    const bk_status status = bk_app_case_check(doc, arena, out, err);
    return status == BK_OK ? bk_app_case_facts(out, arena, &facts, err) : status;
}

/* Hashes tell two patients apart without naming either; an absent hash proves nothing. */
static bk_status same_patient(const bk_json *doc, const bk_json *added, bk_err *err)
{
    const char *asked = bk_json_text(bk_json_path(added, "source.patient_hash"));
    const bk_json *list = bk_json_get(doc, "measurements");
    for (size_t i = 0; i < bk_json_count(list); i++) {
        const char *known = bk_json_text(bk_json_path(bk_json_at(list, i), "source.patient_hash"));
        if (asked[0] && known[0] && strcmp(asked, known) != 0)
            return bk_fail(err, BK_E_DATA,
                           "a measurement of another patient was found, the patient of measurements.%zu was expected",
                           i);
    }
    return BK_OK;
}

static void put_measurement(bk_json *doc, bk_json *added)
{
    if (!bk_json_is_array(bk_json_get(doc, "measurements")))
        bk_json_put(doc, "measurements", bk_json_array());
    bk_json_push(bk_json_get(doc, "measurements"), added);
}

/* Takes added over, also on failure. */
static bk_status put_document(bk_json *doc, bk_json *added, bk_err *err)
{
    const char *schema = bk_json_text(bk_json_get(added, "schema"));
    const bool measurement = strcmp(schema, MEASUREMENT) == 0;
    bk_status status = measurement ? same_patient(doc, added, err) : BK_OK;
    if (!measurement && strcmp(schema, SOLID) != 0)
        status = bk_fail(err, BK_E_DATA, "schema \"%.60s\" was found, " MEASUREMENT " or " SOLID " was expected", schema);
    if (status != BK_OK)
        bk_json_free(added);
    else if (measurement)
        put_measurement(doc, added);
    else
        bk_json_put(doc, "solid", added);
    return status;
}

static bk_status add_document(bk_json *doc, const char *path, bk_arena *arena, bk_err *err)
{
    bk_json *added;
    bk_case checked;
    bk_status status = bk_json_read_file(path, &added, err);
    if (status != BK_OK)
        return status;
    status = put_document(doc, added, err);
    if (status == BK_OK)
        status = verify(doc, arena, &checked, err);
    return status == BK_OK ? BK_OK : bk_fail_in(err, path);
}

static bk_status apply(const bk_case_change *change, bk_json *doc, bk_arena *arena, bk_err *err)
{
    bk_case checked;
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < change->add_n; i++)
        status = add_document(doc, change->add[i], arena, err);
    for (int i = 0; status == BK_OK && i < change->set_n; i++)
        status = bk_app_case_set(doc, change->set[i], err);
    if (status == BK_OK)
        status = verify(doc, arena, &checked, err);
    if (status != BK_OK || (!change->is_new && change->add_n + change->set_n == 0))
        return status;
    bk_json_put_integer(doc, "revision", checked.revision == BK_INTEGER_ABSENT ? 1 : checked.revision + 1);
    return bk_json_write_file(doc, change->path, err);
}

static bk_status open_or_start(const bk_case_change *change, bk_arena *arena, bk_json **doc, bk_err *err)
{
    bk_case checked;
    if (change->is_new)
        return empty_case(doc, err);
    bk_status status = bk_json_read_file(change->path, doc, err);
    if (status != BK_OK)
        return status;
    status = verify(*doc, arena, &checked, err);
    return status == BK_OK ? BK_OK : bk_fail_in(err, change->path);
}

static bk_status change_file(const bk_case_change *change, bk_json **out, bk_err *err)
{
    bk_arena arena;
    bk_json *doc = NULL;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = open_or_start(change, &arena, &doc, err);
    if (status == BK_OK)
        status = apply(change, doc, &arena, err);
    bk_arena_clear(&arena);
    if (status == BK_OK)
        *out = doc;
    else
        bk_json_free(doc);
    return status;
}

/* A change must not fall between the reading and the writing of another, of the log above all. */
bk_status bk_app_case_change(const bk_case_change *change, bk_json **out, bk_err *err)
{
    int held;
    *out = NULL;
    if (change->is_new && access(change->path, F_OK) == 0)
        return bk_fail(err, BK_E_USAGE, "%s exists, the name of a new file was expected with --new", change->path);
    if (change->is_new)
        return change_file(change, out, err);
    bk_status status = bk_file_hold(change->path, &held, err);
    if (status != BK_OK)
        return status;
    status = change_file(change, out, err);
    bk_file_let_go(held);
    return status;
}
