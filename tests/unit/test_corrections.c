/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a person says about a measurement. Expected values are plane geometry. */
#include "support/arena.h"

#include <string.h>

#include "app/corrections.h"
#include "core/anatomy/corrections.h"

#define N 101

/* As the command line would give them; text may be NULL. */
static bk_status say(int what, const char *first, const char *second, bk_corrections *out, bk_err *err)
{
    bk_correction_texts texts = {0};
    *err = (bk_err){0};
    texts.text[what][0] = first;
    texts.text[what][1] = second;
    texts.n[what] = second ? 2 : 1;
    return bk_app_corrections_read(&texts, 100, 200, &arena, out, err);
}

static void refuse(int what, const char *first, const char *second, const char *word)
{
    bk_corrections c;
    bk_err err;
    assert_int_equal(say(what, first, second, &c, &err), BK_E_USAGE);
    if (!strstr(err.message, word))
        fail_msg("\"%s\" was expected in: %s", word, err.message);
}

static void test_corrections__refuse_what_makes_no_sense(void **state)
{
    (void)state;
    refuse(BK_SAY_VIA, "middle:1,2", NULL, "proximal, distal or side");
    refuse(BK_SAY_VIA, "side:1", NULL, "LIMB:X,Y");
    refuse(BK_SAY_VIA, "side:1,2,3", NULL, "LIMB:X,Y");
    refuse(BK_SAY_VIA, "side:1,100", NULL, "inside 0..199,0..99");
    refuse(BK_SAY_VIA, "side:200,1", NULL, "inside 0..199,0..99");
    refuse(BK_SAY_EDGE, "side:left:3,4", NULL, "at least two points");
    refuse(BK_SAY_EDGE, "side:left:3,4,5", NULL, "at least two points");
    refuse(BK_SAY_EDGE, "side:up:3,4,5,6", NULL, "left|right");
    refuse(BK_SAY_EXCLUDE, "side:5,5", NULL, "from below to");
    refuse(BK_SAY_EXCLUDE, "side:-1,5", NULL, "0 to 300");
    refuse(BK_SAY_REFERENCE, "side:0", NULL, "0.3 to 15");
    refuse(BK_SAY_REFERENCE, "side:2", "side:3", "two were found for the side limb");
    refuse(BK_SAY_SWAP, "side,side", NULL, "two limbs");
    refuse(BK_SAY_SWAP, "side", NULL, "LIMB,LIMB");
}

static void test_corrections__print_as_they_were_read(void **state)
{
    (void)state;
    bk_corrections c;
    bk_err err;
    char *text;
    size_t n;
    assert_int_equal(say(BK_SAY_VIA, "side:10.25,20", "distal:1,2", &c, &err), BK_OK);
    bk_json *doc = bk_app_corrections_json(&c);
    assert_int_equal(bk_json_write(doc, &text, &n, NULL), BK_OK);
    assert_non_null(strstr(text, "\"x_px\": 10.25"));
    assert_non_null(strstr(text, "\"limb\": \"distal\""));
    bk_json_text_free(text);
    bk_json_free(doc);
}

static void test_corrections__swap_changes_two_clicks(void **state)
{
    (void)state;
    bk_corrections c;
    bk_err err;
    bk_pt_px click[BK_LIMBS] = {{1, 1}, {2, 2}, {3, 3}};
    assert_int_equal(say(BK_SAY_SWAP, "distal,side", NULL, &c, &err), BK_OK);
    bk_corrections_swap(&c, click);
    assert_near(click[BK_PROXIMAL].x, 1, 0);
    assert_near(click[BK_DISTAL].x, 3, 0);
    assert_near(click[BK_SIDE].x, 2, 0);
}

static void test_corrections__exclusion_holds_for_its_limb_and_stretch(void **state)
{
    (void)state;
    bk_corrections c;
    bk_err err;
    assert_int_equal(say(BK_SAY_EXCLUDE, "distal:4,6.5", NULL, &c, &err), BK_OK);
    assert_true(bk_corrections_excluded(&c, BK_DISTAL, 4));
    assert_true(bk_corrections_excluded(&c, BK_DISTAL, 6.5));
    assert_false(bk_corrections_excluded(&c, BK_DISTAL, 3.99));
    assert_false(bk_corrections_excluded(&c, BK_SIDE, 5));
    assert_false(bk_corrections_excluded(NULL, BK_SIDE, 5));
}

/* A limb along x at y = 50, 10 px wide; left is up (towards smaller y). */
static bk_lumen_limb level_limb(void)
{
    bk_lumen_limb limb = {.n = N, .step_px = 1};
    limb.axis = BK_NEW(&arena, N, bk_pt_px, NULL);
    limb.normal = BK_NEW(&arena, N, bk_pt_px, NULL);
    limb.diameter_px = BK_NEW(&arena, N, double, NULL);
    limb.sd_px = BK_NEW(&arena, N, double, NULL);
    for (size_t k = 0; k < N; k++) {
        limb.axis[k] = (bk_pt_px){20 + (double)k, 50};
        limb.normal[k] = (bk_pt_px){0, -1};
        limb.diameter_px[k] = 10;
        limb.sd_px[k] = 0.2;
    }
    return limb;
}

static void test_corrections__a_drawn_edge_stands_where_it_was_drawn(void **state)
{
    (void)state;
    bk_corrections c;
    bk_err err;
    bk_lumen_limb limb = level_limb();
    bool *drawn;
    assert_int_equal(say(BK_SAY_EDGE, "side:left:40.5,47,60.5,45", NULL, &c, &err), BK_OK);
    assert_int_equal(bk_corrections_draw(&c, BK_SIDE, &limb, bk_evidence_builtin(), &arena, &drawn, &err), BK_OK);
    assert_non_null(drawn);
    /* x = 50 is sample 30; the line is at y = 47 - 9.5 / 10 there, the right edge stays at 55 */
    assert_true(drawn[30]);
    assert_near(limb.diameter_px[30], 55 - 46.05, 1e-9);
    assert_near(limb.axis[30].y, (55 + 46.05) / 2, 1e-9);
    assert_near(limb.sd_px[30], sqrt(0.25 + 0.02), 1e-9);
    assert_false(drawn[20]); /* x = 40 */
    assert_false(drawn[41]); /* x = 61 */
    assert_near(limb.diameter_px[20], 10, 0);
    assert_near(limb.axis[20].y, 50, 0);
}

static void test_corrections__two_drawn_edges_are_fully_manual(void **state)
{
    (void)state;
    bk_corrections c;
    bk_err err;
    bk_lumen_limb limb = level_limb();
    bool *drawn;
    assert_int_equal(say(BK_SAY_EDGE, "side:left:40,48,60,48", "side:right:30,51,70,51", &c, &err), BK_OK);
    assert_int_equal(bk_corrections_draw(&c, BK_SIDE, &limb, bk_evidence_builtin(), &arena, &drawn, &err), BK_OK);
    assert_near(limb.diameter_px[30], 3, 1e-9);
    assert_near(limb.sd_px[30], sqrt(0.5), 1e-9);
    assert_near(limb.diameter_px[15], 6, 1e-9); /* only the right one: 45 to 51 */
    bool *none;
    bk_lumen_limb other = level_limb();
    assert_int_equal(bk_corrections_draw(&c, BK_DISTAL, &other, bk_evidence_builtin(), &arena, &none, &err), BK_OK);
    assert_null(none);
}

static void refuse_edge(const char *text, const char *word)
{
    bk_corrections c;
    bk_err err;
    bk_lumen_limb limb = level_limb();
    bool *drawn;
    assert_int_equal(say(BK_SAY_EDGE, text, NULL, &c, &err), BK_OK);
    assert_int_equal(bk_corrections_draw(&c, BK_SIDE, &limb, bk_evidence_builtin(), &arena, &drawn, &err), BK_E_USAGE);
    if (!strstr(err.message, word))
        fail_msg("\"%s\" was expected in: %s", word, err.message);
}

static void test_corrections__edges_that_cannot_be_are_refused(void **state)
{
    (void)state;
    refuse_edge("side:left:40,47,60,29", "at most 20 px");
    refuse_edge("side:left:40,56,60,56", "crosses the other edge");
    refuse_edge("side:left:10,47,15,47", "runs along no part"); /* before the first sample */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_corrections__refuse_what_makes_no_sense, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__print_as_they_were_read, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__swap_changes_two_clicks, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__exclusion_holds_for_its_limb_and_stretch, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__a_drawn_edge_stands_where_it_was_drawn, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__two_drawn_edges_are_fully_manual, start, stop),
        cmocka_unit_test_setup_teardown(test_corrections__edges_that_cannot_be_are_refused, start, stop),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests_name("corrections", tests, NULL, NULL);
}
