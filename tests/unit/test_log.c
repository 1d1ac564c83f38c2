/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The live log: what events do to the state, and that each alert stands before the event it is about. Order of steps: J Cardiovasc
   Dev Dis 2025;12:410 (provisional, culotte); when the wire leaves: choice of this project (evidence row wire_leaves_last). */
#include "support/arena.h"

#include <stdio.h>
#include <string.h>

#include "core/plan/alerts.h"

typedef struct table {
    bk_progress progress;
    bk_strategy_traits strategy;
    double pot_mm;
    bk_budget_used used;
} table;

static table set_out(enum bk_strategy strategy)
{
    const double none = (double)NAN;
    return (table){bk_progress_start(), bk_strategy_find((int)strategy), none, {none, none, none}};
}

static void take(table *t, const char *json)
{
    bk_json *entry;
    bk_event event;
    bk_err err = {0};
    assert_int_equal(bk_json_read(json, strlen(json), &entry, &err), BK_OK);
    if (bk_event_read(entry, &arena, &event, &err) != BK_OK)
        fail_msg("%s: %s", json, err.message);
    bk_progress_take(&t->progress, &event, &t->strategy);
    bk_json_free(entry);
}

static bool on(const table *t, bk_alert_id alert)
{
    const bk_alert_input in = {&t->progress, &t->strategy, t->used, t->pot_mm, BK_UNKNOWN, bk_evidence_builtin()};
    return bk_alerts_find(&in).on[alert];
}

static void test_log__the_last_wire_is_held_from_the_stent_to_the_pot(void **state)
{
    (void)state;
    table t = set_out(BK_PROVISIONAL_WIRE);
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"main\"}");
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"side\"}");
    assert_false(on(&t, BK_ALERT_DO_NOT_PULL));
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3}");
    assert_int_equal(t.progress.side_jailed, 1);
    assert_int_equal(t.progress.phase, BK_PHASE_INFLATED);
    assert_true(on(&t, BK_ALERT_DO_NOT_PULL)); /* before anybody pulls, and spoken while the balloon is up */
    assert_true(bk_alert_spoken(BK_ALERT_DO_NOT_PULL, t.progress.phase) && !bk_alert_spoken(BK_ALERT_CONTRAST_100, t.progress.phase));
    take(&t, "{\"event\":\"deflated\",\"s\":15}");
    assert_int_equal(t.progress.phase, BK_PHASE_CALM);
    assert_true(on(&t, BK_ALERT_DO_NOT_PULL));
    const table held = t;
    take(&t, "{\"event\":\"kit_ready\"}");
    assert_false(on(&t, BK_ALERT_DO_NOT_PULL));
    t = held;
    take(&t, "{\"event\":\"pot\",\"diameter_mm\":3.5,\"s\":15}");
    assert_false(on(&t, BK_ALERT_DO_NOT_PULL)); /* nothing is to come */
    take(&t, "{\"event\":\"kissing\",\"main_mm\":3,\"side_mm\":2.5,\"s\":20}");
    assert_true(on(&t, BK_ALERT_DO_NOT_PULL)); /* the POT behind the kissing balloons is */
    take(&t, "{\"event\":\"recross\",\"limb\":\"side\",\"cell\":\"distal\"}");
    assert_false(on(&t, BK_ALERT_DO_NOT_PULL)); /* a wire keeps the way */
    take(&t, "{\"event\":\"wire_out\",\"limb\":\"side\"}");
    assert_int_equal(t.progress.side_jailed, 0); /* the jailed one, not the one through the struts */
    assert_int_equal(t.progress.side_through, 1);
}

/* Acceptance case 3 of the project's science notes: the branch is lost after the main stent. Until TIMI 3 is seen or a third
   wire is in the jailed one is not to be pulled, whatever lies ready and with nothing to come in the main vessel. */
static void test_log__the_jailed_wire_is_held_while_the_branch_is_lost(void **state)
{
    (void)state;
    table t = set_out(BK_PROVISIONAL_WIRE);
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"side\"}");
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":2.75,\"s\":15}");
    take(&t, "{\"event\":\"kit_ready\"}");
    take(&t, "{\"event\":\"pot\",\"diameter_mm\":3.5,\"s\":15}");
    assert_false(on(&t, BK_ALERT_SIDE_FLOW)); /* not looked at yet */
    for (int grade = 0; grade < 3; grade++) {
        char seen[60];
        snprintf(seen, sizeof seen, "{\"event\":\"timi\",\"limb\":\"side\",\"grade\":%d}", grade);
        take(&t, seen);
        assert_true(on(&t, BK_ALERT_SIDE_FLOW));
    }
    take(&t, "{\"event\":\"recross_start\",\"limb\":\"side\"}");
    assert_true(on(&t, BK_ALERT_SIDE_FLOW) && bk_alert_spoken(BK_ALERT_SIDE_FLOW, t.progress.phase));
    const table trying = t;
    take(&t, "{\"event\":\"recross\",\"limb\":\"side\"}");
    assert_false(on(&t, BK_ALERT_SIDE_FLOW)); /* the way is kept by another wire */
    t = trying;
    take(&t, "{\"event\":\"timi\",\"limb\":\"side\",\"grade\":3}");
    assert_false(on(&t, BK_ALERT_SIDE_FLOW));
}

static void test_log__a_second_layer_is_said_before_the_second_stent(void **state)
{
    (void)state;
    table t = set_out(BK_CULOTTE);
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"main\"}");
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"side\"}");
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3,\"s\":15}");
    assert_true(on(&t, BK_ALERT_SECOND_LAYER)); /* one stent is in, the strategy has two, a wire lies behind struts */
    take(&t, "{\"event\":\"recross\",\"limb\":\"side\",\"cell\":\"distal\"}");
    take(&t, "{\"event\":\"wire_out\",\"limb\":\"side\",\"which\":\"jailed\"}");
    assert_false(on(&t, BK_ALERT_SECOND_LAYER));
    take(&t, "{\"event\":\"stent\",\"limb\":\"side\",\"diameter_mm\":2.5,\"s\":15}");
    assert_int_equal(t.progress.main_jailed, 1); /* a culotte's second stent lies across the main vessel's wire */
    assert_true(on(&t, BK_ALERT_SECOND_LAYER));
    take(&t, "{\"event\":\"wire_out\",\"limb\":\"main\",\"which\":\"jailed\"}");
    assert_false(on(&t, BK_ALERT_SECOND_LAYER));
    /* in provisional stenting nothing else is to come */
    t = set_out(BK_PROVISIONAL_WIRE);
    take(&t, "{\"event\":\"wire_in\",\"limb\":\"side\"}");
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3,\"s\":15}");
    assert_false(on(&t, BK_ALERT_SECOND_LAYER));
}

static void test_log__the_platform_is_said_before_the_balloon(void **state)
{
    (void)state;
    table t = set_out(BK_PROVISIONAL);
    t.pot_mm = 5; /* rows platform_*: designs that come in 3.0 mm are labelled for 4.75 mm at most */
    assert_false(on(&t, BK_ALERT_PLATFORM));
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3,\"s\":15}");
    assert_true(on(&t, BK_ALERT_PLATFORM));
    t.pot_mm = 4.5;
    assert_false(on(&t, BK_ALERT_PLATFORM));
    take(&t, "{\"event\":\"pot\",\"diameter_mm\":4.5,\"s\":15}");
    take(&t, "{\"event\":\"balloon\",\"limb\":\"side\",\"diameter_mm\":5,\"s\":10}"); /* not in the main vessel */
    assert_false(on(&t, BK_ALERT_PLATFORM));
    take(&t, "{\"event\":\"balloon\",\"limb\":\"main\",\"diameter_mm\":5,\"s\":10}");
    assert_true(on(&t, BK_ALERT_PLATFORM));
}

static void test_log__the_label_of_the_stent_goes_before_typical_ones(void **state)
{
    (void)state;
    table t = set_out(BK_PROVISIONAL);
    t.pot_mm = 3.75;
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3,\"s\":15,\"max_mm\":3.5}");
    assert_true(on(&t, BK_ALERT_PLATFORM)); /* before the POT balloon of 3.75 */
    t.pot_mm = 3.5;
    assert_false(on(&t, BK_ALERT_PLATFORM)); /* on the label */
    take(&t, "{\"event\":\"kissing\",\"main_mm\":3,\"side_mm\":2.5,\"s\":15}");
    assert_false(on(&t, BK_ALERT_PLATFORM)); /* a pair informs, only a round balloon alarms */
    take(&t, "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3,\"s\":15}");
    take(&t, "{\"event\":\"pot\",\"diameter_mm\":3.75,\"s\":15}");
    assert_true(on(&t, BK_ALERT_PLATFORM)); /* the first stent's label holds, also under a second one without */
}

static void test_log__budgets_speak_at_75_and_100(void **state)
{
    (void)state;
    table t = set_out(BK_PROVISIONAL);
    const double at[] = {74.999, 75, 99.999, 100, 130};
    for (size_t i = 0; i < sizeof at / sizeof *at; i++) {
        t.used = (bk_budget_used){at[i], at[i], at[i]};
        assert_int_equal(on(&t, BK_ALERT_CONTRAST_75), at[i] >= 75 && at[i] < 100);
        assert_int_equal(on(&t, BK_ALERT_CONTRAST_100), at[i] >= 100);
        assert_int_equal(on(&t, BK_ALERT_DOSE_75), on(&t, BK_ALERT_CONTRAST_75));
        assert_int_equal(on(&t, BK_ALERT_ACT_100), on(&t, BK_ALERT_CONTRAST_100));
    }
    t.used.contrast_pct = (double)NAN; /* not known: nothing is said */
    assert_false(on(&t, BK_ALERT_CONTRAST_75) || on(&t, BK_ALERT_CONTRAST_100));
}

static void test_log__an_undo_can_be_undone(void **state)
{
    (void)state;
    const bk_event events[] = {{.event = BK_EVENT_POT}, {.event = BK_EVENT_UNDO, .n = 1}, {.event = BK_EVENT_UNDO, .n = 2},
                               {.event = BK_EVENT_UNDO, .n = 9}, {.event = BK_EVENT_UNDO, .n = 5}};
    bool void_of[5];
    bk_events_void(events, 3, void_of);
    assert_true(!void_of[0] && void_of[1] && !void_of[2]);
    bk_events_void(events, 2, void_of);
    assert_true(void_of[0] && !void_of[1]);
    bk_events_void(events, 5, void_of); /* entries that are not there, or that undo themselves, do nothing */
    assert_true(!void_of[3] && !void_of[4]);
}

static void refuses(const char *json, const char *why)
{
    bk_json *entry;
    bk_event event;
    bk_err err = {0};
    assert_int_equal(bk_json_read(json, strlen(json), &entry, &err), BK_OK);
    assert_int_equal(bk_event_read(entry, &arena, &event, &err), BK_E_DATA);
    assert_non_null(strstr(err.message, why));
    bk_json_free(entry);
}

static void test_log__what_does_not_read_is_refused_by_name(void **state)
{
    (void)state;
    refuses("{\"event\":\"stnt\",\"limb\":\"main\"}", "\"stnt\" is unknown, the nearest known one is \"stent\"");
    refuses("{\"event\":\"stent\",\"limb\":\"main\"}", "no diameter_mm");
    refuses("{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":null}", "no diameter_mm");
    refuses("{\"event\":\"pot\",\"diameter_mm\":3,\"ml\":4}", "the key ml");
    refuses("{\"event\":\"pot\",\"diameter_mm\":33}", "0.5 to 8 mm");
    refuses("{\"event\":\"timi\",\"limb\":\"side\",\"grade\":4}", "grade");
    refuses("[]", "an array");
}

/* Whatever is logged in whatever order, no count goes below zero and nothing is jailed without a stent. */
static void test_log__no_order_of_events_breaks_the_state(void **state)
{
    (void)state;
    static const char *const deck[] = {
        "{\"event\":\"wire_in\",\"limb\":\"side\"}", "{\"event\":\"wire_out\",\"limb\":\"side\"}", "{\"event\":\"wire_in\",\"limb\":\"main\"}",
        "{\"event\":\"wire_out\",\"limb\":\"main\"}", "{\"event\":\"wire_out\",\"limb\":\"side\",\"which\":\"through\"}",
        "{\"event\":\"recross\",\"limb\":\"side\"}", "{\"event\":\"stent\",\"limb\":\"main\",\"diameter_mm\":3}",
        "{\"event\":\"stent\",\"limb\":\"side\",\"diameter_mm\":2.5}", "{\"event\":\"deflated\"}", "{\"event\":\"recross_start\",\"limb\":\"side\"}"};
    unsigned seed = 1;
    for (int run = 0; run < 200; run++) {
        table t = set_out(run % 2 ? BK_CULOTTE : BK_PROVISIONAL_WIRE);
        for (int i = 0; i < 40; i++) {
            seed = seed * 1103515245U + 12345U;
            take(&t, deck[seed / 65536 % (sizeof deck / sizeof *deck)]);
            const bk_progress *p = &t.progress;
            assert_true(p->main_wires >= 0 && p->main_jailed >= 0 && p->side_wires >= 0 && p->side_jailed >= 0 && p->side_through >= 0);
            assert_true(p->side_jailed == 0 || p->crossing_stents > 0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_log__the_last_wire_is_held_from_the_stent_to_the_pot),
        cmocka_unit_test(test_log__the_jailed_wire_is_held_while_the_branch_is_lost),
        cmocka_unit_test(test_log__a_second_layer_is_said_before_the_second_stent),
        cmocka_unit_test(test_log__the_platform_is_said_before_the_balloon),
        cmocka_unit_test(test_log__the_label_of_the_stent_goes_before_typical_ones),
        cmocka_unit_test(test_log__budgets_speak_at_75_and_100),
        cmocka_unit_test(test_log__an_undo_can_be_undone),
        cmocka_unit_test(test_log__what_does_not_read_is_refused_by_name),
        cmocka_unit_test(test_log__no_order_of_events_breaks_the_state),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, start, stop);
}
