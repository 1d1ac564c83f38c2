/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/case.h"

#include <math.h>
#include <string.h>
#include <unistd.h>

#include "app/app.h"
#include "base/evidence.h"

#define MEMORY_CAP ((size_t)256 * 1024 * 1024)
#define SCHEMA "branchkeep.case/1"

bk_status bk_app_case_check(const bk_json *doc, bk_arena *arena, bk_case *out, bk_err *err)
{
    bk_status status = bk_fields_read(bk_case_fields, doc, BK_KEYS_TOP_KEPT, arena, out, err);
    if (status == BK_OK && strcmp(out->schema, SCHEMA) != 0)
        status = bk_fail(err, BK_E_DATA, "schema \"%s\" was found, \"" SCHEMA "\" was expected", out->schema);
    return status;
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

bk_status bk_app_case_facts(const bk_case *c, bk_arena *arena, bk_facts *out, bk_err *err)
{
    const size_t n = bk_json_count(c->measurements);
    bk_measured *measured = BK_NEW(arena, n, bk_measured, err);
    bk_solid *solid = NULL;
    bk_status status = measured ? BK_OK : err->status;
    for (size_t i = 0; status == BK_OK && i < n; i++)
        status = bk_fields_read(bk_measured_fields, bk_json_at(c->measurements, i), BK_KEYS_KEPT, arena, &measured[i], err);
    if (status == BK_OK && c->solid && !bk_json_is_null(c->solid)) {
        solid = BK_NEW(arena, 1, bk_solid, err);
        status = solid ? bk_fields_read(bk_solid_fields, c->solid, BK_KEYS_KEPT, arena, solid, err) : err->status;
    }
    if (status != BK_OK)
        return status;
    const bk_facts_input input = {&c->anatomy, measured, n, solid,
                                  bk_evidence_value(bk_evidence_builtin(), BK_EVIDENCE("visual_stenosis_sd"))};
    *out = bk_facts_resolve(&input);
    return BK_OK;
}

static bk_json *empty_case(const char *path)
{
    const char *name = strrchr(path, '/');
    char id[40];
    name = name ? name + 1 : path;
    const size_t n = strcspn(name, ".") < sizeof id - 1 ? strcspn(name, ".") : sizeof id - 1;
    memcpy(id, name, n);
    id[n] = '\0';
    bk_json *doc = bk_json_object();
    bk_json_put_text(doc, "schema", SCHEMA);
    bk_json_put_text(doc, "case_id", id);
    bk_json_put_integer(doc, "revision", 0);
    bk_json_put_text(doc, "created_with", bk_engine);
    return doc;
}

/* Hashes tell two patients apart without naming either; an absent hash proves nothing. */
static bk_status same_patient(const bk_json *doc, const bk_json *added, bk_err *err)
{
    const char *asked = bk_json_text(bk_json_path(added, "source.patient_hash"));
    const bk_json *list = bk_json_get(doc, "measurements");
    for (size_t i = 0; i < bk_json_count(list); i++) {
        const char *known = bk_json_text(bk_json_path(bk_json_at(list, i), "source.patient_hash"));
        if (asked[0] && known[0] && strcmp(asked, known) != 0)
            return bk_fail(err, BK_E_DATA, "the measurement is of another patient than measurement %zu of the case", i + 1);
    }
    return BK_OK;
}

static bk_status add_document(bk_json *doc, const char *path, bk_err *err)
{
    bk_json *added;
    bk_status status = bk_json_read_file(path, &added, err);
    if (status != BK_OK)
        return status;
    const char *schema = bk_json_text(bk_json_get(added, "schema"));
    if (strcmp(schema, "branchkeep.measurement/1") == 0) {
        status = same_patient(doc, added, err);
        if (status == BK_OK) {
            if (!bk_json_is_array(bk_json_get(doc, "measurements")))
                bk_json_put(doc, "measurements", bk_json_array());
            bk_json_push(bk_json_get(doc, "measurements"), added);
            return BK_OK;
        }
    } else if (strcmp(schema, "branchkeep.solid/1") == 0) {
        bk_json_put(doc, "solid", added);
        return BK_OK;
    } else {
        status = bk_fail(err, BK_E_DATA, "%s: schema \"%.60s\" was found, branchkeep.measurement/1 or branchkeep.solid/1 was expected",
                         path, schema);
    }
    bk_json_free(added);
    return status;
}

static bk_status apply(const bk_case_change *change, bk_json *doc, bk_arena *arena, bk_err *err)
{
    bk_case checked;
    bk_facts facts;
    bk_status status = BK_OK;
    for (int i = 0; status == BK_OK && i < change->add_n; i++)
        status = add_document(doc, change->add[i], err);
    for (int i = 0; status == BK_OK && i < change->set_n; i++)
        status = bk_app_case_set(doc, change->set[i], err);
    if (status == BK_OK)
        status = bk_app_case_check(doc, arena, &checked, err);
    if (status == BK_OK)
        status = bk_app_case_facts(&checked, arena, &facts, err);
    if (status != BK_OK || (!change->is_new && change->add_n + change->set_n == 0))
        return status;
    bk_json_put_integer(doc, "revision", checked.revision == BK_INTEGER_ABSENT ? 1 : checked.revision + 1);
    return bk_json_write_file(doc, change->path, err);
}

bk_status bk_app_case_change(const bk_case_change *change, bk_json **out, bk_err *err)
{
    bk_arena arena;
    bk_json *doc = NULL;
    bk_status status = BK_OK;
    *out = NULL;
    if (change->is_new && access(change->path, F_OK) == 0)
        return bk_fail(err, BK_E_USAGE, "%s exists already, a new name was expected with --new", change->path);
    bk_arena_init(&arena, MEMORY_CAP);
    if (change->is_new)
        doc = empty_case(change->path);
    else
        status = bk_json_read_file(change->path, &doc, err);
    if (status == BK_OK)
        status = apply(change, doc, &arena, err);
    bk_arena_clear(&arena);
    if (status == BK_OK)
        *out = doc;
    else
        bk_json_free(doc);
    return status;
}
