/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "base/field.h"
#include "base/random.h"

/* A struct with one member of every kind. */
typedef struct limb {
    bk_qty reference_mm;
    int timi;
} limb;

typedef struct thing {
    double share;
    int count;
    bk_qty length_mm, age_y;
    bk_qty creatinine_mg_dl, creatinine_umol_l;
    bk_tri dialysis;
    int side, sex;
    char name[12];
    limb near;
    limb *extra;
    bk_list limbs, curve;
    const bk_json *any;
} thing;

static const char *const sides[] = {"unknown", "left", "right", NULL};
static const char *const sexes[] = {"", "male", "female", NULL};
static const bk_field limb_rows[] = {
    {BK_ROW_QTY(limb, reference_mm, "mm", 0.5, 12, BK_VISUAL, "healthy lumen")},
    {BK_ROW_INTEGER(limb, timi, 0, 3, "flow grade")},
    {0},
};
static const bk_field rows[] = {
    {BK_ROW_REAL(thing, share, "%", 0, 100, "a share")},
    {BK_ROW_INTEGER(thing, count, 0, 5, "a count")},
    {BK_ROW_QTY(thing, length_mm, "mm", 0, 150, BK_VISUAL, "a length")},
    {BK_ROW_QTY(thing, age_y, "years", 18, 110, BK_ENTERED, "an age")},
    {BK_ROW_QTY(thing, creatinine_mg_dl, "mg/dL", 0.2, 20, BK_ENTERED, "creatinine"), .one_of = "creatinine",
     .hint = "a value in umol/L belongs in creatinine_umol_l"},
    {BK_ROW_QTY(thing, creatinine_umol_l, "umol/L", 18, 1800, BK_ENTERED, "creatinine"),
     .one_of = "creatinine"},
    {BK_ROW_TRI(thing, dialysis, "on dialysis")},
    {BK_ROW_CHOICE(thing, side, sides, "a side")},
    {BK_ROW_CHOICE(thing, sex, sexes, "sex")},
    {BK_ROW_TEXT(thing, name, "a name"), .set_by = "another command"},
    {BK_ROW_OBJECT(thing, near, limb, limb_rows, "a limb")},
    {BK_ROW_MAYBE(thing, extra, limb, limb_rows, "one more limb")},
    {BK_ROW_LIST(thing, limbs, limb, limb_rows, "limbs")},
    {BK_ROW_REALS(thing, curve, "mm", "a curve")},
    {BK_ROW_JSON(thing, any, "anything")},
    {0},
};

typedef struct fixture {
    bk_arena arena;
    bk_err err;
    bk_json *json;
    thing got;
} fixture;

static bk_status read_text(fixture *f, const char *text, bk_unknown_keys unknown)
{
    bk_arena_init(&f->arena, 1 << 20);
    f->err = (bk_err){0};
    assert_int_equal(bk_json_read(text, strlen(text), &f->json, &f->err), BK_OK);
    return bk_fields_read(rows, f->json, unknown, &f->arena, &f->got, &f->err);
}

static void drop(fixture *f)
{
    bk_json_free(f->json);
    bk_arena_clear(&f->arena);
}

static void assert_refused(const char *text, const char *message)
{
    fixture f;
    assert_int_equal(read_text(&f, text, BK_KEYS_REFUSED), BK_E_DATA);
    assert_string_equal(f.err.message, message);
    assert_true(isnan(f.got.share) && f.got.extra == NULL); /* cleared on failure */
    drop(&f);
}

static void test_field__reads_every_kind(void **state)
{
    (void)state;
    fixture f;
    const char text[] =
        "{\"share\": 12.5, \"count\": 3, \"length_mm\": 18, \"age_y\": {\"value\": 67},"
        "\"dialysis\": false, \"side\": \"LEFT\", \"sex\": \"male\", \"name\": \"x\","
        "\"near\": {\"reference_mm\": {\"value\": 3.1, \"sd\": 0.1, \"origin\": \"measured\"}},"
        "\"extra\": {\"timi\": 2}, \"limbs\": [{\"timi\": 1}, {}], \"curve\": [1, null, 3],"
        "\"any\": {\"of\": [1]}}";
    assert_int_equal(read_text(&f, text, BK_KEYS_REFUSED), BK_OK);
    assert_near(f.got.share, 12.5, 0);
    assert_int_equal(f.got.count, 3);
    assert_true(f.got.length_mm.origin == BK_VISUAL && isnan(f.got.length_mm.sd));
    assert_true(f.got.age_y.origin == BK_ENTERED && f.got.age_y.value == 67);
    assert_int_equal(f.got.dialysis, BK_NO);
    assert_int_equal(f.got.side, 1);
    assert_int_equal(f.got.sex, 1);
    assert_true(f.got.near.reference_mm.origin == BK_MEASURED && f.got.near.reference_mm.sd == 0.1);
    assert_int_equal(f.got.near.timi, BK_INTEGER_ABSENT);
    assert_int_equal(f.got.extra->timi, 2);
    assert_int_equal(f.got.limbs.n, 2);
    assert_int_equal(BK_ITEMS(f.got.limbs, limb)[0].timi, 1);
    assert_true(isnan(BK_ITEMS(f.got.curve, double)[1]) && BK_ITEMS(f.got.curve, double)[2] == 3);
    assert_int_equal(bk_json_count(f.got.any), 1);
    assert_false(bk_has(f.got.creatinine_mg_dl));
    drop(&f);
}

static void test_field__null_is_absent(void **state)
{
    (void)state;
    fixture f;
    assert_int_equal(read_text(&f, "{\"share\": null, \"extra\": null, \"dialysis\": null, \"name\": null}",
                               BK_KEYS_REFUSED),
                     BK_OK);
    assert_true(isnan(f.got.share) && !f.got.extra && f.got.dialysis == BK_UNKNOWN && !f.got.name[0]);
    drop(&f);
}

static void test_field__says_what_was_found_and_expected(void **state)
{
    (void)state;
    assert_refused("{\"near\": {\"refrence_mm\": 3}}",
                   "near.refrence_mm is unknown, the nearest known key is reference_mm");
    assert_refused("{\"limbs\": [{}, {\"reference_mm\": 25}]}",
                   "limbs.1.reference_mm: 25 was found, 0.5 to 12 mm was expected");
    assert_refused("{\"creatinine_mg_dl\": 85}",
                   "creatinine_mg_dl: 85 was found, 0.2 to 20 mg/dL was expected; "
                   "a value in umol/L belongs in creatinine_umol_l");
    assert_refused(
        "{\"creatinine_mg_dl\": 1, \"creatinine_umol_l\": 88}",
        "document: both creatinine_mg_dl and creatinine_umol_l were found, one of them was expected");
    assert_refused("{\"count\": 1.5}", "count: 1.5 was found, a whole number was expected");
    assert_refused("{\"count\": -1}", "count: -1 was found, 0 to 5 was expected");
    assert_refused("{\"count\": 1e300}", "count: 1e+300 was found, 0 to 5 was expected");
    assert_refused("{\"share\": \"3\"}", "share: a text was found, a number was expected");
    assert_refused("{\"length_mm\": [1]}",
                   "length_mm: an array was found, a number or {\"value\", \"sd\", \"origin\"} was expected");
    assert_refused("{\"length_mm\": {\"value\": 3, \"std\": 1}}",
                   "length_mm.std is unknown, the nearest known key is sd");
    assert_refused("{\"length_mm\": {\"sd\": 3}}",
                   "length_mm.value: nothing was found, a number was expected");
    assert_refused("{\"length_mm\": {\"value\": 3, \"sd\": -1}}",
                   "length_mm.sd: -1 was found, 0 to 150 mm was expected");
    assert_refused(
        "{\"length_mm\": {\"value\": 3, \"origin\": \"guessed\"}}",
        "length_mm.origin: \"guessed\" was found, measured, projected, visual, entered, derived or assumed "
        "was expected");
    assert_refused("{\"dialysis\": \"maybe\"}",
                   "dialysis: \"maybe\" was found, yes, no or unknown was expected");
    assert_refused("{\"dialysis\": 1}", "dialysis: a number was found, yes, no or unknown was expected");
    assert_refused("{\"side\": \"rigth\"}", "side: \"rigth\" is unknown, the nearest known word is right");
    assert_refused("{\"sex\": \"\"}", "sex: \"\" is unknown, the nearest known word is male");
    assert_refused("{\"name\": \"twelve bytes\"}",
                   "name: a text of 12 bytes was found, at most 11 were expected");
    assert_refused("{\"limbs\": {}}", "limbs: an object was found, an array was expected");
    assert_refused("[]", "document: an array was found, an object was expected");
}

static void test_field__ranges_include_their_ends(void **state)
{
    (void)state;
    fixture f;
    assert_int_equal(read_text(&f, "{\"share\": 100, \"count\": 0, \"age_y\": 18}", BK_KEYS_REFUSED), BK_OK);
    drop(&f);
    assert_refused("{\"share\": 100.5}", "share: 100.5 was found, 0 to 100 % was expected");
    assert_refused("{\"age_y\": 17.9}", "age_y: 17.9 was found, 18 to 110 years was expected");
}

static void test_field__unknown_keys_by_mode(void **state)
{
    (void)state;
    fixture f;
    assert_int_equal(read_text(&f, "{\"my_own_note\": 1}", BK_KEYS_TOP_KEPT), BK_OK);
    drop(&f);
    assert_int_equal(read_text(&f, "{\"dialisys\": true}", BK_KEYS_TOP_KEPT), BK_E_DATA);
    assert_string_equal(f.err.message, "dialisys is unknown, the nearest known key is dialysis");
    drop(&f);
    assert_int_equal(read_text(&f, "{\"near\": {\"my_own_note\": 1}}", BK_KEYS_TOP_KEPT), BK_E_DATA);
    drop(&f);
    assert_int_equal(read_text(&f, "{\"dialisys\": 1, \"near\": {\"my_own_note\": 1}}", BK_KEYS_KEPT), BK_OK);
    drop(&f);
}

/* ---- round trip: print(read(print(x))) = print(x), and the members are the same ---- */

static bk_qty random_qty(bk_random *random, double low, double high)
{
    if (bk_random_unit(random) < 0.2)
        return bk_qty_absent();
    const bk_origin origin = (bk_origin)(1 + (int)bk_random_between(random, 0, 6));
    const double sd = bk_random_unit(random) < 0.5 ? (double)NAN : bk_random_between(random, 0, high - low);
    return bk_qty_of(bk_random_between(random, low, high), sd, origin);
}

static limb random_limb(bk_random *random)
{
    return (limb){random_qty(random, 0.5, 12),
                  bk_random_unit(random) < 0.3 ? BK_INTEGER_ABSENT : (int)bk_random_between(random, 0, 4)};
}

static void assert_same_qty(bk_qty a, bk_qty b)
{
    assert_int_equal(a.origin, b.origin);
    assert_true(!bk_has(a) || a.value == b.value);
    assert_true(a.sd == b.sd || (isnan(a.sd) && isnan(b.sd)));
}

static thing random_thing(bk_random *random, limb *extra, limb limbs[3], double curve[4])
{
    thing x;
    memset(&x, 0, sizeof x);
    bk_fields_clear(rows, &x);
    x.share = bk_random_unit(random) < 0.2 ? (double)NAN : bk_random_between(random, 0, 100);
    x.count = bk_random_unit(random) < 0.2 ? BK_INTEGER_ABSENT : (int)bk_random_between(random, 0, 6);
    x.length_mm = random_qty(random, 0, 150);
    x.age_y = random_qty(random, 18, 110);
    if (bk_random_unit(random) < 0.5)
        x.creatinine_mg_dl = random_qty(random, 0.2, 20);
    else
        x.creatinine_umol_l = random_qty(random, 18, 1800);
    x.dialysis = (bk_tri)bk_random_between(random, 0, 3);
    x.side = (int)bk_random_between(random, 0, 3);
    x.sex = (int)bk_random_between(random, 0, 3);
    snprintf(x.name, sizeof x.name, "%d", (int)bk_random_between(random, 0, 1000));
    x.near = random_limb(random);
    *extra = random_limb(random);
    x.extra = bk_random_unit(random) < 0.5 ? extra : NULL;
    for (int i = 0; i < 3; i++)
        limbs[i] = random_limb(random);
    x.limbs = (bk_list){limbs, (size_t)bk_random_between(random, 0, 4)};
    for (int i = 0; i < 4; i++)
        curve[i] = bk_random_normal(random);
    x.curve = (bk_list){curve, (size_t)bk_random_between(random, 0, 5)};
    return x;
}

static void assert_same_thing(const thing *a, const thing *b)
{
    assert_true(a->share == b->share || (isnan(a->share) && isnan(b->share)));
    assert_int_equal(a->count, b->count);
    assert_same_qty(a->length_mm, b->length_mm);
    assert_same_qty(a->age_y, b->age_y);
    assert_same_qty(a->creatinine_mg_dl, b->creatinine_mg_dl);
    assert_same_qty(a->creatinine_umol_l, b->creatinine_umol_l);
    assert_int_equal(a->dialysis, b->dialysis);
    assert_int_equal(a->side, b->side);
    assert_int_equal(a->sex, b->sex);
    assert_string_equal(a->name, b->name);
    assert_same_qty(a->near.reference_mm, b->near.reference_mm);
    assert_int_equal(!a->extra, !b->extra);
    if (a->extra)
        assert_same_qty(a->extra->reference_mm, b->extra->reference_mm);
    assert_int_equal(a->limbs.n, b->limbs.n);
    for (size_t i = 0; i < a->limbs.n; i++) {
        assert_same_qty(BK_ITEMS(a->limbs, limb)[i].reference_mm, BK_ITEMS(b->limbs, limb)[i].reference_mm);
        assert_int_equal(BK_ITEMS(a->limbs, limb)[i].timi, BK_ITEMS(b->limbs, limb)[i].timi);
    }
    assert_int_equal(a->curve.n, b->curve.n);
    for (size_t i = 0; i < a->curve.n; i++)
        assert_true(BK_ITEMS(a->curve, double)[i] == BK_ITEMS(b->curve, double)[i]);
}

static void test_field__round_trip_is_identity(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 20261125);
    for (int i = 0; i < 3000; i++) {
        limb extra, limbs[3];
        double curve[4];
        const thing want = random_thing(&random, &extra, limbs, curve);
        bk_json *printed = bk_fields_print(rows, &want);
        char *text;
        size_t n;
        fixture f;
        assert_int_equal(bk_json_write(printed, &text, &n, NULL), BK_OK);
        if (read_text(&f, text, BK_KEYS_REFUSED) != BK_OK)
            fail_msg("trial %d: %s", i, f.err.message);
        assert_same_thing(&f.got, &want);
        bk_json_text_free(text);
        bk_json_free(printed);
        drop(&f);
    }
}

/* ---- setting by path ---- */

static void set_and_read(fixture *f, const char *path, const char *text)
{
    if (bk_fields_set(rows, f->json, path, text, &f->err) != BK_OK)
        fail_msg("%s", f->err.message);
    if (bk_fields_read(rows, f->json, BK_KEYS_REFUSED, &f->arena, &f->got, &f->err) != BK_OK)
        fail_msg("%s", f->err.message);
}

static void test_field__sets_by_path(void **state)
{
    (void)state;
    fixture f;
    assert_int_equal(read_text(&f, "{}", BK_KEYS_REFUSED), BK_OK);
    set_and_read(&f, "near.reference_mm", "2.5");
    assert_true(f.got.near.reference_mm.value == 2.5 && f.got.near.reference_mm.origin == BK_VISUAL);
    set_and_read(&f, "near.reference_mm", "{\"value\": 2.6, \"sd\": 0.1, \"origin\": \"measured\"}");
    assert_near(f.got.near.reference_mm.sd, 0.1, 0);
    set_and_read(&f, "count", "4");
    assert_int_equal(f.got.count, 4);
    set_and_read(&f, "dialysis", "true");
    assert_int_equal(f.got.dialysis, BK_YES);
    set_and_read(&f, "dialysis", "no");
    assert_int_equal(f.got.dialysis, BK_NO);
    set_and_read(&f, "limbs.0.timi", "3");
    set_and_read(&f, "limbs.1.timi", "1");
    assert_int_equal(f.got.limbs.n, 2);
    set_and_read(&f, "extra.timi", "2");
    assert_int_equal(f.got.extra->timi, 2);
    set_and_read(&f, "extra", "null");
    assert_null(f.got.extra);
    set_and_read(&f, "curve", "[1, 2]");
    assert_int_equal(f.got.curve.n, 2);
    drop(&f);
}

static void assert_not_set(const char *path, const char *text, bk_status status, const char *message)
{
    fixture f;
    assert_int_equal(read_text(&f, "{\"limbs\": [{}]}", BK_KEYS_REFUSED), BK_OK);
    assert_int_equal(bk_fields_set(rows, f.json, path, text, &f.err), status);
    assert_string_equal(f.err.message, message);
    drop(&f);
}

static void test_field__refuses_what_cannot_be_set(void **state)
{
    (void)state;
    assert_not_set("near.refrence_mm", "2", BK_E_USAGE,
                   "near.refrence_mm: \"refrence_mm\" is unknown, the nearest known key is reference_mm");
    assert_not_set("name", "x", BK_E_USAGE, "name cannot be set, it is changed by another command");
    assert_not_set("", "x", BK_E_USAGE, "\"\" was found, a path such as patient.age_y was expected");
    assert_not_set("count.x", "1", BK_E_USAGE, "count.x goes on behind count, which has no parts");
    assert_not_set("limbs.3.timi", "1", BK_E_USAGE,
                   "limbs.3.timi: limbs is a list of 1, an index from 0 to 1 was expected");
    assert_not_set("limbs.0", "1", BK_E_USAGE, "limbs.0 ends with an index, a key of limbs was expected");
    assert_not_set("share", "3 mm", BK_E_DATA, "share: \"3 mm\" was found, a number was expected");
}

static void test_field__lists_its_rows(void **state)
{
    (void)state;
    bk_json *list = bk_json_array();
    for (const bk_field *row = rows; row->kind != BK_FIELD_END; row++)
        bk_fields_list_row(row, list);
    assert_string_equal(bk_json_text(bk_json_path(list, "0.name")), "share");
    assert_string_equal(bk_json_text(bk_json_path(list, "2.origin_of_a_bare_number")), "visual");
    size_t of_limbs = 0;
    for (size_t i = 0; i < bk_json_count(list); i++)
        of_limbs += strcmp(bk_json_text(bk_json_get(bk_json_at(list, i), "name")), "limbs[].timi") == 0;
    assert_int_equal(of_limbs, 1);
    bk_json_free(list);
}

static void test_field__out_of_memory_is_a_clean_failure(void **state)
{
    (void)state;
    const char text[] = "{\"extra\": {\"timi\": 1}, \"limbs\": [{}], \"curve\": [1]}";
    bk_json *json;
    assert_int_equal(bk_json_read(text, strlen(text), &json, NULL), BK_OK);
    for (long at = 1; at <= 3; at++) {
        bk_arena arena;
        bk_err err = {0};
        thing got;
        bk_arena_init(&arena, 1 << 20);
        arena.fail_at = at;
        assert_int_not_equal(bk_fields_read(rows, json, BK_KEYS_REFUSED, &arena, &got, &err), BK_OK);
        assert_true(err.message[0] && !got.extra && !got.limbs.items);
        bk_arena_clear(&arena);
    }
    bk_json_free(json);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_field__reads_every_kind),
        cmocka_unit_test(test_field__null_is_absent),
        cmocka_unit_test(test_field__says_what_was_found_and_expected),
        cmocka_unit_test(test_field__ranges_include_their_ends),
        cmocka_unit_test(test_field__unknown_keys_by_mode),
        cmocka_unit_test(test_field__round_trip_is_identity),
        cmocka_unit_test(test_field__sets_by_path),
        cmocka_unit_test(test_field__refuses_what_cannot_be_set),
        cmocka_unit_test(test_field__lists_its_rows),
        cmocka_unit_test(test_field__out_of_memory_is_a_clean_failure),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
