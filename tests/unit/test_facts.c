/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "support/check.h"

#include <string.h>

#include "core/anatomy/lesion.h"
#include "core/anatomy/path_length.h"
#include "core/case/facts.h"

#define EYE_SD 8.4 /* Nallamothu 2013, evidence row visual_stenosis_sd */

typedef struct world {
    bk_anatomy_input anatomy;
    bk_measured measured[2];
    bk_solid solid;
    bk_facts_input in;
} world;

/* A case with nothing in it; the parts are switched on by the tests. */
static void clear_world(world *w)
{
    bk_fields_clear(bk_anatomy_fields, &w->anatomy);
    for (int i = 0; i < 2; i++)
        bk_fields_clear(bk_measured_fields, &w->measured[i]);
    bk_fields_clear(bk_solid_fields, &w->solid);
    for (int i = 0; i < 2; i++)
        w->measured[i].stage = BK_STAGE_BASELINE;
    w->solid.segments.distal.position_mm = (bk_list){NULL, 0};
    w->solid.segments.proximal.position_mm = (bk_list){NULL, 0};
    w->solid.segments.side.position_mm = (bk_list){NULL, 0};
    w->in = (bk_facts_input){.anatomy = &w->anatomy,
                             .measured = w->measured,
                             .visual_stenosis_sd_pct = EYE_SD,
                             .solid_length_sd_mm = 0.26};
}

static bk_qty bare(double value)
{
    return bk_qty_of(value, (double)NAN, BK_VISUAL);
}

static void test_facts__entered_before_solid_before_measured(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    w.in.measured_n = 1;
    w.measured[0].segments.distal.reference_mm = bk_qty_of(3.1, 0.05, BK_MEASURED);
    w.measured[0].segments.distal.length_mm = bk_qty_of(30, 0.5, BK_PROJECTED);
    w.measured[0].angles.distal_side_deg = bk_qty_of(50, 2, BK_PROJECTED);
    w.measured[0].calibration.sd_pct = 2.6;
    bk_facts f = bk_facts_resolve(&w.in);
    assert_int_equal(f.limb[BK_DISTAL].reference_mm.from, BK_FROM_MEASUREMENT);
    assert_int_equal(f.distal_side_deg.q.origin, BK_PROJECTED);
    assert_near(f.scale_sd_pct, 2.6, 0);
    assert_int_equal(f.measurement, 0);
    w.in.solid = &w.solid;
    w.solid.segments.distal.reference_mm = bk_qty_of(3.0, 0.04, BK_MEASURED);
    w.solid.segments.distal.length_mm = bk_qty_of(33, 0.3, BK_MEASURED);
    w.solid.angles.distal_side_deg = bk_qty_of(57, 2, BK_MEASURED);
    f = bk_facts_resolve(&w.in);
    assert_near(f.limb[BK_DISTAL].reference_mm.q.value, 3.0, 0);
    assert_near(f.limb[BK_DISTAL].length_mm.q.value, 33, 0);
    assert_int_equal(f.distal_side_deg.from, BK_FROM_SOLID);
    w.anatomy.segments.distal.reference_mm = bare(2.9);
    w.anatomy.calibration_sd_pct = 5;
    f = bk_facts_resolve(&w.in);
    assert_int_equal(f.limb[BK_DISTAL].reference_mm.from, BK_FROM_ANATOMY);
    assert_near(f.limb[BK_DISTAL].reference_mm.q.value, 2.9, 0);
    assert_near(f.limb[BK_DISTAL].length_mm.q.value, 33, 0); /* each number on its own */
    assert_near(f.scale_sd_pct, 5, 0);
    assert_int_equal(f.limb[BK_SIDE].reference_mm.from, BK_FROM_NOWHERE);
}

static void test_facts__newest_baseline_measurement(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    assert_int_equal(bk_facts_newest_baseline(w.measured, 0), -1);
    assert_int_equal(bk_facts_newest_baseline(w.measured, 2), 1); /* no times: the later in the list */
    strcpy(w.measured[0].acquired_at, "2026-03-02T10:00:00");     // allow: fits
    strcpy(w.measured[1].acquired_at, "2026-03-02T09:00:00");     // allow: fits
    assert_int_equal(bk_facts_newest_baseline(w.measured, 2), 0);
    w.measured[0].stage = BK_STAGE_STENTED;
    assert_int_equal(bk_facts_newest_baseline(w.measured, 2), 1);
    w.measured[1].stage = BK_STAGE_FINAL;
    assert_int_equal(bk_facts_newest_baseline(w.measured, 2), -1);
}

static void test_facts__stenosis_follows_the_contract(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    bk_limb_input *side = &w.anatomy.segments.side;
    side->reference_mm = bare(2.5);
    side->mld_mm = bare(1.0);
    bk_limb_facts f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.stenosis_pct.q.value, 60, 1e-12); /* 1 - 1.0/2.5 */
    assert_near(f.stenosis_pct.q.sd, EYE_SD, 0);    /* built from bare diameters */
    assert_int_equal(f.stenosis_pct.q.origin, BK_VISUAL);
    side->mld_mm = bk_qty_of(1.0, 0.1, BK_MEASURED);
    side->reference_mm = bk_qty_of(2.5, 0.2, BK_MEASURED);
    f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    /* propagation by hand: 100/2.5 sqrt(0.1^2 + 0.4^2 0.2^2) = 40 sqrt(0.0164) */
    assert_near(f.stenosis_pct.q.sd, 40 * sqrt(0.0164), 1e-12);
    assert_int_equal(f.stenosis_pct.q.origin, BK_DERIVED);
    side->mld_mm = bk_qty_of(1.0, (double)NAN, BK_ENTERED);
    side->reference_mm = bk_qty_of(2.5, (double)NAN, BK_ENTERED);
    f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.stenosis_pct.q.sd, 0, 0); /* entered: exact */
    side->mld_mm = bk_qty_absent();
    side->stenosis_pct = bare(70);
    f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.stenosis_pct.q.sd, EYE_SD, 0); /* given bare */
    assert_near(f.mld_mm.q.value, 0.75, 1e-12);
    assert_int_equal(f.mld_mm.from, BK_FROM_OTHERS);
    side->stenosis_pct = bk_qty_of(70, 3, BK_VISUAL);
    assert_near(bk_facts_resolve(&w.in).limb[BK_SIDE].stenosis_pct.q.sd, 3, 0);
}

static void test_facts__one_source_for_the_lumen(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    w.in.measured_n = 1;
    bk_measured_limb *measured = &w.measured[0].segments.side;
    measured->reference_mm = bk_qty_of(2.5, 0.05, BK_MEASURED);
    measured->mld_mm = bk_qty_of(0.9, 0.05, BK_MEASURED);
    measured->stenosis_pct = bk_qty_of(64, 1.5, BK_MEASURED);
    bk_limb_facts f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.stenosis_pct.q.sd, 1.5, 0); /* as measured together */
    assert_int_equal(f.stenosis_pct.from, BK_FROM_MEASUREMENT);
    w.anatomy.segments.side.reference_mm = bk_qty_of(2.25, (double)NAN, BK_ENTERED);
    f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.stenosis_pct.q.value, 60, 1e-12); /* rebuilt: 1 - 0.9/2.25 */
    assert_int_equal(f.stenosis_pct.from, BK_FROM_OTHERS);
    w.anatomy.segments.side.stenosis_pct = bare(40); /* by eye leads over the measured lumen */
    f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.mld_mm.q.value, 2.25 * 0.6, 1e-12);
    assert_int_equal(f.stenosis_pct.from, BK_FROM_ANATOMY);
}

static void test_facts__occlusion(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    bk_limb_input *side = &w.anatomy.segments.side;
    assert_int_equal(bk_facts_resolve(&w.in).limb[BK_SIDE].occluded, BK_UNKNOWN);
    side->mld_mm = bare(0);
    assert_int_equal(bk_facts_resolve(&w.in).limb[BK_SIDE].occluded, BK_YES);
    side->mld_mm = bare(0.4);
    assert_int_equal(bk_facts_resolve(&w.in).limb[BK_SIDE].occluded, BK_NO);
    side->mld_mm = bk_qty_absent();
    side->occluded = BK_YES;
    const bk_limb_facts f = bk_facts_resolve(&w.in).limb[BK_SIDE];
    assert_near(f.mld_mm.q.value, 0, 0);
    assert_near(f.stenosis_pct.q.value, 100, 0);
}

static void test_facts__lesion_of_a_solid_comes_from_its_curve(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    w.in.measured_n = 1;
    w.in.solid = &w.solid;
    w.measured[0].segments.distal.mld_mm = bk_qty_of(1, 0.1, BK_MEASURED);
    w.measured[0].segments.distal.lesion_length_mm = bk_qty_of(8, 1, BK_PROJECTED);
    w.measured[0].segments.distal.mld_position_mm = 7;
    assert_int_equal(bk_facts_resolve(&w.in).limb[BK_DISTAL].lesion_length_mm.q.origin, BK_PROJECTED);
    assert_near(bk_facts_resolve(&w.in).limb[BK_DISTAL].lesion_end_mm, 7 + 8 / 2.0, 0);
    w.measured[0].segments.distal.lesion_to_mm = 12.5;
    assert_near(bk_facts_resolve(&w.in).limb[BK_DISTAL].lesion_end_mm, 12.5, 0);
    double position[] = {0, 2, 4, 6, 8, 10, 12}, diameter[] = {3, 3, 2, 1, 2, 3, 3};
    w.solid.segments.distal.reference_mm = bk_qty_of(3, 0.1, BK_MEASURED);
    w.solid.segments.distal.diameter_mm = (bk_list){diameter, 7};
    w.solid.segments.distal.position_mm = (bk_list){position, 7};
    bk_limb_facts f = bk_facts_resolve(&w.in).limb[BK_DISTAL];
    /* 90 % of 3 mm = 2.7 mm, reached 0.7 of the way from 2 to 3 mm: at 8 + 1.4 and, before, 4 - 1.4 mm */
    assert_near(f.lesion_length_mm.q.value, 9.4 - 2.6, 1e-12);
    assert_near(f.lesion_end_mm, 9.4, 1e-12);
    assert_int_equal(f.lesion_length_mm.q.origin, BK_MEASURED);
    for (size_t i = 0; i < 7; i++)
        diameter[i] = 2.9;
    f = bk_facts_resolve(&w.in).limb[BK_DISTAL];
    assert_true(f.no_lesion && !bk_has(f.lesion_length_mm.q));
}

static void test_facts__no_lesion_is_not_missing(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    w.in.measured_n = 1;
    assert_false(bk_facts_resolve(&w.in).limb[BK_DISTAL].no_lesion); /* nothing known */
    w.measured[0].segments.distal.mld_mm = bk_qty_of(2.9, 0.1, BK_MEASURED);
    assert_true(bk_facts_resolve(&w.in).limb[BK_DISTAL].no_lesion);
    w.anatomy.segments.distal.mld_mm = bare(1.0); /* a lesion by hand where the picture showed none */
    assert_false(bk_facts_resolve(&w.in).limb[BK_DISTAL].no_lesion);
}

static void test_facts__scale_is_shared_by_what_was_measured(void **state)
{
    (void)state;
    assert_near(bk_fact_sd(bk_qty_of(3, 0.04, BK_MEASURED), 1), 0.05, 1e-12); /* 3-4-5: hypot(0.04, 0.03) */
    assert_near(bk_fact_sd(bk_qty_of(3, 0.04, BK_VISUAL), 1), 0.04, 0);
    assert_near(bk_fact_sd(bk_qty_of(3, (double)NAN, BK_ENTERED), 1), 0, 0);
    assert_true(isnan(bk_fact_sd(bk_qty_of(3, (double)NAN, BK_VISUAL), 1)));
    assert_near(bk_fact_sd(bk_qty_of(3, 0.04, BK_MEASURED), (double)NAN), 0.04, 0);
}

static bk_lesion_extent lesion_of(const double position[5], const double diameter[5])
{
    const bk_lesion_curve curve = {.position_mm = position, .diameter_mm = diameter, .whole_reference_mm = 3, .n = 5};
    return bk_lesion_find(&curve);
}

static void test_lesion__finds_the_stretch(void **state)
{
    (void)state;
    const double position[] = {0, 1, 2, 3, 4};
    const double open[] = {3, 2.9, 2.8, 2.9, 3}, to_the_end[] = {3, 3, (double)NAN, 2, 1};
    assert_false(lesion_of(position, open).found); /* 2.8 > 0.9 x 3 */
    bk_lesion_extent e = lesion_of(position, to_the_end);
    assert_true(e.found);
    assert_near(e.from_mm, 3 - 2 * 0.7, 1e-12); /* across the unreadable point */
    assert_near(e.to_mm, 4, 0);
    const double ripple[] = {3, 1, 2.75, 2.4, 2.9}; /* 2.75 is out of the lesion, but not back at 2.85 */
    e = lesion_of(position, ripple);
    assert_near(e.from_mm, 0.15, 1e-12);
    assert_near(e.to_mm, 3.6, 1e-12);
    assert_false(lesion_of(position, (const double[]){NAN, NAN, NAN, NAN, NAN}).found);
}

/* A tapering reference, and a stretch that a person left out. Crossings worked out by hand. */
static void test_lesion__of_a_limb_with_its_own_reference(void **state)
{
    (void)state;
    const double position[] = {0, 1, 2, 3, 4}, reference[] = {4, 4, 3, 3, 2};
    const double diameter[] = {3.8, 2.4, 1.5, 2.7, 1.99};
    bk_lesion_curve curve = {position, diameter, reference, NAN, NULL, 5};
    bk_lesion_extent e = bk_lesion_find(&curve);
    assert_near(e.from_mm, 1 - 0.3 / 0.35, 1e-12); /* 0.95 at 0 is back; 0.60 at 1: 0.90 lies 6/7 of the way */
    assert_near(e.to_mm, 3, 1e-12);                /* 0.90 at 3 */
    const bool left_out[] = {false, true, false, false, false};
    curve.left_out = left_out;
    e = bk_lesion_find(&curve);
    assert_near(e.from_mm, 2 - 2 * 0.4 / 0.45, 1e-12); /* from 0.50 at 2 straight to 0.95 at 0 */
    assert_near(bk_lesion_end(&curve, 4, 1), 4, 0);    /* not in a lesion */
}

static void test_path_length__of_a_square(void **state)
{
    (void)state;
    const double xyz[] = {0, 0, 0, 3, 4, 0, 3, 4, 12, 3, 4, 12};
    double out[4];
    bk_path_length(xyz, 4, out);
    assert_near(out[0], 0, 0);
    assert_near(out[1], 5, 1e-12);
    assert_near(out[2], 17, 1e-12);
    assert_near(out[3], 17, 1e-12);
}

/* A full turn in a plane: 130 + 70 + 160 = 360. What would be wider than straight is not said. */
static void test_facts__third_angle(void **state)
{
    (void)state;
    world w;
    clear_world(&w);
    w.anatomy.angles.proximal_side_deg = bare(130);
    assert_false(bk_has(bk_facts_resolve(&w.in).proximal_distal_deg.q));
    w.anatomy.angles.distal_side_deg = bare(70);
    assert_near(bk_facts_resolve(&w.in).proximal_distal_deg.q.value, 160, 1e-12);
    assert_int_equal(bk_facts_resolve(&w.in).proximal_distal_deg.q.origin, BK_DERIVED);
    w.anatomy.angles.distal_side_deg = bare(40);
    assert_false(bk_has(bk_facts_resolve(&w.in).proximal_distal_deg.q));
    w.anatomy.angles.proximal_distal_deg = bare(171);
    assert_near(bk_facts_resolve(&w.in).proximal_distal_deg.q.value, 171, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_facts__entered_before_solid_before_measured),
        cmocka_unit_test(test_facts__newest_baseline_measurement),
        cmocka_unit_test(test_facts__stenosis_follows_the_contract),
        cmocka_unit_test(test_facts__one_source_for_the_lumen),
        cmocka_unit_test(test_facts__occlusion),
        cmocka_unit_test(test_facts__third_angle),
        cmocka_unit_test(test_facts__lesion_of_a_solid_comes_from_its_curve),
        cmocka_unit_test(test_facts__no_lesion_is_not_missing),
        cmocka_unit_test(test_facts__scale_is_shared_by_what_was_measured),
        cmocka_unit_test(test_lesion__finds_the_stretch),
        cmocka_unit_test(test_lesion__of_a_limb_with_its_own_reference),
        cmocka_unit_test(test_path_length__of_a_square),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
