/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/arena.h"

#include <stdlib.h>
#include <string.h>

#include "base/random.h"
#include "core/plan/shelf.h"

static char text[8192];

static bk_status read_text(const char *list, bk_stock *out, bk_err *err)
{
    strcpy(text, list);
    return bk_stock_read(text, strlen(text), &arena, out, err);
}

#define HEAD                                                                                                 \
    "kind,id,class,nominal_mm,length_mm,maximum_mm,nominal_atm,rated_atm,growth_pct_atm,table,tip_load_g,"   \
    "inner_mm,french\n"
#define GOOD "balloon,b_1,non,3.0,8 12,,12,20,,12:3.00 16:3.05 20:3.10,,,\n"

static bk_stock good(const char *rows)
{
    char list[4096] = HEAD;
    bk_stock stock;
    bk_err err = {0};
    strcat(list, rows);
    if (read_text(list, &stock, &err) != BK_OK)
        fail_msg("%s", err.message);
    return stock;
}

static void refused(const char *row, const char *want)
{
    char list[4096] = HEAD GOOD;
    bk_stock stock;
    bk_err err = {0};
    strcat(list, row);
    assert_int_not_equal(read_text(list, &stock, &err), BK_OK);
    assert_string_equal(err.message, want);
}

static void test_shelf__rows_are_checked(void **state)
{
    (void)state;
    refused("baloon,b,non,3.0,8,,12,20,,,,,\n",
            "line 3: kind \"baloon\" is unknown, the nearest known one is balloon");
    refused("balloon,b_1,non,3.0,8,,12,20,,,,,\n", "line 3: id b_1 was given before");
    refused("balloon,B,non,3.0,8,,12,20,,,,,\n",
            "line 3: id \"B\" was found, lower-case letters, digits and _ were expected");
    refused("balloon,b,nom,3.0,8,,12,20,,,,,\n",
            "line 3: class \"nom\" of a balloon is unknown, the nearest known one is non");
    refused("balloon,b,,3.0,8,,12,20,,,,,\n", "line 3: class of a balloon is empty");
    refused("balloon,b,non,3.0,8,,12,,,,,,\n", "line 3: rated_atm of a balloon is empty");
    refused("balloon,b,non,30,8,,12,20,,,,,\n",
            "line 3: nominal_mm \"30\" was found, 0.75 to 7 was expected");
    refused("balloon,b,non,3.0 2.5,8,,12,20,,,,,\n",
            "line 3: nominal_mm 2.5 was found behind 3, rising sizes were expected");
    refused("balloon,b,non,\"3,0\",8,,12,20,,,,,\n",
            "line 3: nominal_mm \"3,0\" was found, 0.75 to 7 was expected");
    refused("balloon,b,non,3.0,8,4.0,12,20,,,,,\n",
            "line 3: maximum_mm \"4.0\" was found, nothing was expected for a balloon");
    refused("balloon,b,non,3.0,8,,21,20,,,,,\n",
            "line 3: rated_atm 20 was found, at least nominal_atm 21 was expected");
    refused("balloon,b,non,3.0,8,,12,20,,12-3.0,,,\n",
            "line 3: table \"12-3.0\" was found, ATM:MM was expected");
    refused("balloon,b,non,3.0,8,,12,20,,12:3.0 10:3.1,,,\n",
            "line 3: table 10:3.1 was found behind 12:3, rising pressures and diameters were expected");
    refused("balloon,b,non,3.0,8,,12,20,,3.0:12,,,\n",
            "line 3: table 3:12 was found, 0 to 45 atm and a diameter near the nominal 3 mm were expected");
    refused("balloon,b,non,2.5 3.0,8,,12,20,,12:3.0 14:3.1,,,\n",
            "line 3: a table was found, one nominal size and rated_atm were expected with it");
    refused("stent,s,medium,3.0,12,2.75,,,,,,,\n",
            "line 3: maximum_mm 2.75 was found, at least the largest nominal size 3 was expected");
    refused("guide,g,,,,,,,,,,2.0,6\n",
            "line 3: inner_mm 2 was found, less than the outer 2 mm of 6 F was expected");
    refused("wire,w,jacketed,,,,,,,,heavy,,\n",
            "line 3: tip_load_g \"heavy\" was found, 0.1 to 50 was expected");
    refused("wire,w\n", "line 3: 2 cells were found, 13 as in the first line were expected");
    bk_stock stock;
    bk_err err = {0};
    assert_int_not_equal(read_text("kind,ident\n", &stock, &err), BK_OK);
    assert_string_equal(err.message, "line 1: column \"ident\" is unknown, the nearest known one is id");
    err = (bk_err){0};
    assert_int_not_equal(read_text("kind,id\n", &stock, &err), BK_OK);
    assert_string_equal(err.message, "line 2: no designs were found, at least one was expected");
    err = (bk_err){0};
    assert_int_not_equal(read_text("", &stock, &err), BK_OK);
    assert_string_equal(err.message, "line 1: columns kind and id were expected in the first line");
}

/* Whatever the bytes: read or refused in one line, never a crash. */
static void test_shelf__survives_damaged_lists(void **state)
{
    (void)state;
    bk_random random;
    bk_random_seed(&random, 12);
    size_t n;
    const char *whole = bk_stock_builtin("demo", &n);
    char *copy = malloc(n + 1);
    assert_non_null(copy);
    for (int trial = 0; trial < 300; trial++) {
        memcpy(copy, whole, n);
        for (int hits = 0; hits < 3; hits++)
            copy[(size_t)bk_random_between(&random, 0, (double)n)] = (char)bk_random_between(&random, 0, 127);
        bk_stock stock;
        bk_err err = {0};
        const bk_arena_mark mark = bk_arena_take_mark(&arena);
        const bk_status status = bk_stock_read(copy, trial % 3 ? n : n / 2, &arena, &stock, &err);
        assert_true(status == BK_OK || (err.message[0] && !strchr(err.message, '\n')));
        bk_arena_rewind(&arena, mark);
    }
    free(copy);
}

static bk_stock builtin(const char *name)
{
    size_t n;
    bk_stock stock;
    bk_err err = {0};
    const char *list = bk_stock_builtin(name, &n);
    assert_non_null(list);
    char *copy = BK_NEW(&arena, n + 1, char, &err);
    assert_non_null(copy);
    memcpy(copy, list, n);
    if (bk_stock_read(copy, n, &arena, &stock, &err) != BK_OK)
        fail_msg("%s", err.message);
    return stock;
}

static void test_shelf__built_in_lists(void **state)
{
    (void)state;
    const bk_stock generic = builtin("default"), demo = builtin("demo");
    for (size_t i = 0; i < generic.n; i++)
        assert_true(strcmp(generic.items[i].standing, "memory") == 0 ||
                    strcmp(generic.items[i].standing, "common practice") == 0);
    for (size_t i = 0; i < demo.n; i++)
        assert_string_equal(demo.items[i].standing, "invented");
    assert_null(bk_stock_builtin("other", &(size_t){0}));
    assert_string_equal(bk_stock_builtin_name(0), "default");
    assert_null(bk_stock_builtin_name(2));
}

static bk_stock_wish wish(bk_stock_kind kind, double nominal)
{
    const double none = (double)NAN;
    return (bk_stock_wish){kind, BK_CLASS_NONE, nominal, none, none, none, none};
}

static void test_shelf__stent_by_size_length_and_reach(void **state)
{
    (void)state;
    const bk_stock stock = good(
        "stent,small,small,2.5 2.75,12 18 24,3.5,,,,,,,\nstent,medium,medium,2.75 3.0,12 18 28,,,,,,,,\n");
    bk_stock_match found[BK_STOCK_MATCHES];
    bk_stock_wish w = wish(BK_STOCK_STENT, 2.75);
    w.at_least_mm = 17;
    w.reach_mm =
        3.73; /* 2.75 and 2.75 below it: above the small design's 3.5, within the medium class's 4.25 */
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found), 2);
    assert_string_equal(found[0].item->id, "medium");
    assert_int_equal(found[0].reach, BK_PLATFORM_WITHIN);
    assert_true(found[0].by_class && !found[1].by_class);
    assert_near(found[0].length_mm, 18, 0);
    assert_int_equal(found[1].reach, BK_PLATFORM_ABOVE);
    w.at_least_mm = 25;
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found),
                     1); /* the small one is not made that long */
    assert_near(found[0].length_mm, 28, 0);
    w.at_least_mm = 29;
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found), 0);
    w = wish(BK_STOCK_STENT, 2.6);
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found), 1);
    assert_false(found[0].exact);
    assert_near(found[0].nominal_mm, 2.5, 0); /* the next smaller one, never a larger */
}

static void test_shelf__balloon_not_longer_than_its_room(void **state)
{
    (void)state;
    const bk_stock stock =
        good(GOOD "balloon,other,non,3.5,6 10,,12,20,,,,,\nballoon,semi,semi,3.0,8,,8,14,,,,,\n");
    bk_stock_match found[BK_STOCK_MATCHES];
    bk_stock_wish w = wish(BK_STOCK_BALLOON, 3.5);
    w.cls = BK_CLASS_NON;
    w.at_most_mm = 9.6;
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found),
                     1); /* 3.0 stands in for 3.5, not beside it */
    assert_string_equal(found[0].item->id, "other");
    assert_near(found[0].length_mm, 6, 0);
    w.at_most_mm = 5;
    assert_int_equal(bk_stock_find(&stock, &w, bk_evidence_builtin(), found), 0);
}

static void test_shelf__compliance_examples(void **state)
{
    (void)state;
    /* plan.md, worked there: semi 3.0, 1.2 %/atm about 8 atm: 3.22 at 14; non 3.75, 0.35 about 12: 3.83 at 18
     */
    const bk_stock stock =
        good("balloon,semi,semi,3.0,8,,8,14,1.2,,,,\nballoon,non,non,3.75,8,,12,18,0.35,,,,\n" GOOD);
    assert_near(bk_stock_diameter(&stock.items[0], 3.0, 14), 3.22, 0.005);
    assert_near(bk_stock_diameter(&stock.items[1], 3.75, 18), 3.83, 0.005);
    assert_near(bk_stock_diameter(&stock.items[1], 3.75, 30), 3.83, 0.005); /* cut at rated burst */
    assert_near(bk_stock_diameter(&stock.items[2], 3.0, 14), 3.025, 1e-12);
    assert_true(isnan(bk_stock_diameter(&stock.items[2], 3.0, 11)));
    assert_int_equal(bk_stock_pressure(&stock.items[0], 3.1).verdict,
                     BK_PRESSURE_NO_TABLE); /* a model is no table */
    bk_pressure p = bk_stock_pressure(&stock.items[2], 3.03);
    assert_int_equal(p.verdict, BK_PRESSURE_GIVEN);
    assert_near(p.atm, 12 + 4 * 0.03 / 0.05, 1e-9);
    assert_near(p.at_rated_mm, 3.10, 1e-12);
    assert_int_equal(bk_stock_pressure(&stock.items[2], 3.11).verdict, BK_PRESSURE_ABOVE_RATED);
    assert_int_equal(bk_stock_pressure(&stock.items[2], 2.9).verdict, BK_PRESSURE_BELOW_TABLE);
}

/* Nothing above rated burst, also where a table goes on beyond it; and the pressure gives back the diameter.
 */
static void test_shelf__never_above_rated_burst(void **state)
{
    (void)state;
    const bk_stock demo = builtin("demo"),
                   beyond = good("balloon,b,non,3.0,8,,12,16,,12:3.00 16:3.05 20:3.10,,,\n");
    assert_int_equal(bk_stock_pressure(&beyond.items[0], 3.08).verdict, BK_PRESSURE_ABOVE_RATED);
    int given = 0;
    for (size_t i = 0; i < demo.n; i++)
        for (double mm = 1; mm < 6; mm += 0.003) {
            const bk_pressure p = bk_stock_pressure(&demo.items[i], mm);
            if (p.verdict != BK_PRESSURE_GIVEN) {
                assert_true(isnan(p.atm));
                continue;
            }
            given++;
            assert_true(p.atm <= demo.items[i].rated_atm);
            assert_near(bk_stock_diameter(&demo.items[i], demo.items[i].nominal_mm.v[0], p.atm), mm, 1e-6);
        }
    assert_true(given > 500);
}

static void test_shelf__profiles(void **state)
{
    (void)state;
    const bk_stock demo = builtin("demo"), generic = builtin("default");
    for (size_t i = 0; i < demo.n; i++)
        if (demo.items[i].kind == BK_STOCK_STENT)
            assert_near(bk_stock_profile(&demo.items[i], bk_evidence_builtin()).mm[BK_FRONT], 1.05, 1e-12);
    for (size_t i = 0; i < generic.n; i++)
        if (generic.items[i].kind == BK_STOCK_STENT)
            assert_near(bk_stock_profile(&generic.items[i], bk_evidence_builtin()).mm[BK_FRONT],
                        bk_evidence_value(bk_evidence_builtin(), "profile_stent_front"), 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shelf__rows_are_checked),
        cmocka_unit_test(test_shelf__survives_damaged_lists),
        cmocka_unit_test(test_shelf__built_in_lists),
        cmocka_unit_test(test_shelf__stent_by_size_length_and_reach),
        cmocka_unit_test(test_shelf__balloon_not_longer_than_its_room),
        cmocka_unit_test(test_shelf__compliance_examples),
        cmocka_unit_test(test_shelf__never_above_rated_burst),
        cmocka_unit_test(test_shelf__profiles),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
