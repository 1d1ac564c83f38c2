/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include "core/plan/steps.h"

typedef struct plan {
    bk_step steps[BK_STEPS_MAX];
    size_t n;
    const char *row;
} plan;

static plan of(enum bk_strategy strategy, bk_wire_leaves leaves)
{
    plan out;
    out.n = bk_steps_plan(strategy, leaves, out.steps, &out.row);
    return out;
}

/* Place of the first step of this kind, from 0; -1: none. */
static int place(const plan *p, bk_step_id id)
{
    for (size_t i = 0; i < p->n; i++)
        if (p->steps[i].id == id)
            return (int)i;
    return -1;
}

static void assert_order(const plan *p, const bk_step_id *want, size_t n)
{
    assert_int_equal(p->n, n);
    for (size_t i = 0; i < n; i++)
        assert_int_equal(p->steps[i].id, want[i]);
}

static void test_steps__provisional_in_the_published_order(void **state)
{
    (void)state;
    /* J Cardiovasc Dev Dis 2025;12:410: wire both, (predilate), stent the main vessel, POT, angiogram; TIMI below 3 or
       70 %: rewire through the distal cell, withdraw the jailed wire only after that, kissing, POT again */
    static const bk_step_id wired[] = {BK_STEP_WIRE_MAIN, BK_STEP_WIRE_SIDE, BK_STEP_PREDILATE, BK_STEP_STENT_MAIN,
                                       BK_STEP_POT,       BK_STEP_ANGIOGRAM, BK_STEP_RECROSS,   BK_STEP_WITHDRAW_JAILED_WIRE,
                                       BK_STEP_KISSING,   BK_STEP_POT_AGAIN, BK_STEP_FINISH};
    plan p = of(BK_PROVISIONAL_WIRE, BK_LEAVES_LAST);
    assert_order(&p, wired, sizeof wired / sizeof wired[0]);
    assert_false(p.steps[place(&p, BK_STEP_POT)].if_needed);
    assert_true(p.steps[place(&p, BK_STEP_RECROSS)].if_needed && p.steps[place(&p, BK_STEP_KISSING)].if_needed);
    assert_false(p.steps[place(&p, BK_STEP_WITHDRAW_JAILED_WIRE)].if_needed); /* it comes out either way */
}

static void test_steps__tap_and_culotte_in_the_published_order(void **state)
{
    (void)state;
    /* J Cardiovasc Dev Dis 2026;13:24, from the main stent on; taking out the jailed wire and, for the culotte, the
       rewiring of the distal main vessel are not in that list */
    static const bk_step_id tap[] = {BK_STEP_STENT_MAIN, BK_STEP_POT, BK_STEP_KISSING, BK_STEP_STENT_SIDE,
                                     BK_STEP_KISSING_FINAL, BK_STEP_POT_AGAIN};
    static const bk_step_id culotte[] = {BK_STEP_STENT_MAIN, BK_STEP_POT,       BK_STEP_RECROSS,      BK_STEP_KISSING,
                                         BK_STEP_STENT_SIDE, BK_STEP_POT_AGAIN, BK_STEP_KISSING_FINAL};
    plan p = of(BK_TAP, BK_LEAVES_LAST);
    for (size_t i = 1; i < sizeof tap / sizeof tap[0]; i++)
        assert_true(place(&p, tap[i]) > place(&p, tap[i - 1]));
    p = of(BK_CULOTTE, BK_LEAVES_LAST);
    for (size_t i = 1; i < sizeof culotte / sizeof culotte[0]; i++)
        assert_true(place(&p, culotte[i]) > place(&p, culotte[i - 1]));
}

static void test_steps__rules_of_the_trade_hold_for_all(void **state)
{
    (void)state;
    for (int s = BK_PROVISIONAL; s < BK_STRATEGIES; s++) {
        const plan p = of((enum bk_strategy)s, BK_LEAVES_LAST);
        if (p.n == 0)
            continue;
        assert_true(p.n <= BK_STEPS_MAX && p.row);
        assert_int_equal(p.steps[0].id, BK_STEP_WIRE_MAIN);
        assert_int_equal(p.steps[p.n - 1].id, BK_STEP_FINISH);
        const int out = place(&p, BK_STEP_WITHDRAW_JAILED_WIRE);
        assert_true(out < 0 || place(&p, BK_STEP_RECROSS) < out); /* never before the branch is reached again */
        for (size_t i = 0; i < p.n; i++) /* what was jailed comes out */
            assert_true(p.steps[i].side != BK_SIDE_JAILED || out > (int)i || p.steps[i].id == BK_STEP_WITHDRAW_JAILED_WIRE);
        const bool two = bk_strategy_find(s).second_stent;
        assert_true(two == (place(&p, BK_STEP_KISSING_FINAL) >= 0)); /* 15th consensus: final kissing after two stents */
        if (two && s != BK_DK_CRUSH) /* main vessel first, but for the crush */
            assert_true(place(&p, BK_STEP_STENT_MAIN) < place(&p, BK_STEP_STENT_SIDE));
        if (s == BK_DK_CRUSH)
            assert_true(place(&p, BK_STEP_STENT_SIDE_FIRST) < place(&p, BK_STEP_STENT_MAIN));
        for (size_t i = 0; i < p.n; i++)
            assert_true(!p.steps[i].exposed || (p.steps[i].inflates_main && p.steps[i].side == BK_SIDE_BARE));
    }
}

static void test_steps__the_jailed_balloon_lies_before_the_stent_and_leaves_after(void **state)
{
    (void)state;
    /* Shishido 2016: balloon across the ostium, opened together with the stent; the wire stays jailed */
    const plan p = of(BK_JAILED_BALLOON, BK_LEAVES_LAST);
    assert_true(place(&p, BK_STEP_LAY_SIDE_BALLOON) < place(&p, BK_STEP_STENT_MAIN));
    assert_true(place(&p, BK_STEP_WITHDRAW_SIDE_BALLOON) > place(&p, BK_STEP_STENT_MAIN));
    assert_true(place(&p, BK_STEP_WITHDRAW_SIDE_BALLOON) < place(&p, BK_STEP_POT));
    assert_int_equal(p.steps[place(&p, BK_STEP_POT)].side, BK_SIDE_JAILED);
}

static int exposed_n(const plan *p)
{
    int n = 0;
    for (size_t i = 0; i < p->n; i++)
        n += p->steps[i].exposed;
    return n;
}

static void test_steps__what_is_exposed_follows_the_wire(void **state)
{
    (void)state;
    plan p = of(BK_PROVISIONAL, BK_LEAVES_LAST); /* no wire: predilatation, stent and POT are unprotected */
    assert_int_equal(exposed_n(&p), 3);
    assert_true(p.steps[place(&p, BK_STEP_PREDILATE)].exposed && p.steps[place(&p, BK_STEP_STENT_MAIN)].exposed &&
                p.steps[place(&p, BK_STEP_POT)].exposed);
    assert_false(p.steps[place(&p, BK_STEP_KISSING)].exposed); /* re-crossed by then */
    p = of(BK_PROVISIONAL_WIRE, BK_LEAVES_LAST);
    assert_int_equal(exposed_n(&p), 0);
    assert_int_equal(p.steps[place(&p, BK_STEP_POT)].side, BK_SIDE_JAILED);
    assert_int_equal(p.steps[place(&p, BK_STEP_KISSING)].side, BK_SIDE_RECROSSED);
    assert_int_equal(p.steps[place(&p, BK_STEP_WITHDRAW_JAILED_WIRE)].side, BK_SIDE_JAILED);
    assert_int_equal(p.steps[place(&p, BK_STEP_FINISH)].side, BK_SIDE_BARE); /* stopped after the angiogram */
    p = of(BK_PROVISIONAL_WIRE, BK_LEAVES_BEFORE_POT); /* out before the first post-dilatation */
    assert_int_equal(exposed_n(&p), 1);
    assert_true(p.steps[place(&p, BK_STEP_POT)].exposed);
    assert_int_equal(place(&p, BK_STEP_WITHDRAW_JAILED_WIRE), place(&p, BK_STEP_POT) - 1);
    int leaves = 0;
    for (size_t i = 0; i < p.n; i++)
        leaves += p.steps[i].id == BK_STEP_WITHDRAW_JAILED_WIRE;
    assert_int_equal(leaves, 1);
}

static void test_steps__what_was_not_read_is_not_said(void **state)
{
    (void)state;
    const plan p = of(BK_DK_CULOTTE, BK_LEAVES_LAST);
    assert_int_equal(p.n, 0);
    assert_null(p.row);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steps__provisional_in_the_published_order),
        cmocka_unit_test(test_steps__tap_and_culotte_in_the_published_order),
        cmocka_unit_test(test_steps__rules_of_the_trade_hold_for_all),
        cmocka_unit_test(test_steps__the_jailed_balloon_lies_before_the_stent_and_leaves_after),
        cmocka_unit_test(test_steps__what_is_exposed_follows_the_wire),
        cmocka_unit_test(test_steps__what_was_not_read_is_not_said),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
