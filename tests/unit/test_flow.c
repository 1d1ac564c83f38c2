/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Laws of pressure loss and the network, against numbers from outside: Poiseuille by hand, the published
   formulas worked independently, and a public nozzle benchmark. */
#include "support/check.h"

#include "base/random.h"
#include "core/flow/count.h"
#include "core/flow/profile.h"
#include "core/flow/scene.h"
#include "core/flow/territory.h"

static const bk_blood blood = {3.5e-3, 1050};
#define MM 1e-3
#define ML 1e-6
#define PI 3.14159265358979323846

/* Arithmetic of the textbook formula: 128 mu L Q/(pi D^4). */
static void test_flow__poiseuille(void **state)
{
    (void)state;
    assert_near(bk_poiseuille(blood, 3 * MM, 20 * MM, 2 * ML), 70.42, 0.01);
    assert_near(bk_poiseuille(blood, 2 * MM, 20 * MM, 1 * ML), 178.25, 0.01);
}

/* Young & Tsai 1973 with the length of Seeley & Young 1976, worked apart from this program. */
static void test_flow__young_tsai(void **state)
{
    (void)state;
    static const struct {
        double d0, ds, ls, q, kv, viscous, squared, re;
    } v[] = {{3.0, 1.8, 10, 2, 926.1, 2.29, 1.51, 255},  {3.0, 1.5, 10, 2, 1836.4, 4.55, 4.31, 255},
             {3.0, 1.5, 10, 3, 1836.4, 6.82, 9.70, 382}, {3.0, 1.2, 10, 2, 4278.3, 10.59, 13.21, 255},
             {3.5, 1.75, 15, 3, 2241.1, 5.24, 5.24, 327}, {2.5, 1.0, 8, 1, 4140.0, 8.86, 6.85, 153}};
    for (size_t i = 0; i < sizeof v / sizeof v[0]; i++) {
        const double q = v[i].q * ML;
        const bk_young_tsai law = bk_young_tsai_of(blood, v[i].d0 * MM, v[i].ds * MM, v[i].ls * MM);
        assert_near(law.kv, v[i].kv, 0.05);
        assert_near(law.linear * q / BK_PA_PER_MMHG, v[i].viscous, 0.006);
        assert_near(law.squared * q * q / BK_PA_PER_MMHG, v[i].squared, 0.006);
        assert_near(bk_reynolds(blood, v[i].d0 * MM, q), v[i].re, 0.6);
    }
}

/* Table of the two published models of developing flow, worked apart from this program. */
static void test_flow__developing_flow(void **state)
{
    (void)state;
    static const double v[][4] = {{0.9, 0.000183, 0.2004, 0.1866}, {0.5, 0.005640, 1.2093, 1.1094},
                                  {0.2, 0.018269, 2.3656, 2.2032}, {0.1, 0.027245, 3.0222, 2.8343},
                                  {0.05, 0.035613, 3.5928, 3.3968}, {0.01, 0.054026, 4.7966, 4.6063}};
    double x, loss, core;
    for (size_t i = 0; i < sizeof v / sizeof v[0]; i++) {
        bk_integral_model(v[i][0], &x, &loss);
        assert_near(x, v[i][1], 1e-6);
        assert_near(loss, v[i][2], 1e-4);
        assert_near(bk_shah_london(x), v[i][3], 2e-4);
        assert_near(bk_integral_loss(x, &core), loss, 1e-6);
        assert_near(core, v[i][0], 1e-6);
    }
    assert_near((bk_integral_loss(2.1, &core) - bk_integral_loss(2.0, &core)) / 0.1, 64, 1e-3); /* Poiseuille */
}

/* Momentum balance by hand, Ds 1.5, Dd 3.0 mm, 2 ml/s. */
static void test_flow__expansion(void **state)
{
    (void)state;
    const double s = bk_circle(1.5 * MM), d = bk_circle(3 * MM);
    assert_near(bk_expansion_flat(1050, s, d, 2 * ML) / BK_PA_PER_MMHG, 2.837, 1e-3);
    assert_near(bk_expansion_parabolic(1050, s, d, 2 * ML) / BK_PA_PER_MMHG, 6.935, 1e-3);
}

enum { SAMPLES = 801 };
/* A tube of length_mm with a blunt or cosine stenosis in its middle. */
static bk_limb_loss tube(double d0, double ds, double ls, double length_mm, bool cosine)
{
    double x[SAMPLES], d[SAMPLES], r[SAMPLES];
    for (int i = 0; i < SAMPLES; i++) {
        x[i] = length_mm * MM * i / (SAMPLES - 1);
        const double u = fabs(x[i] / MM - length_mm / 2) / (ls / 2);
        d[i] = u >= 1 ? d0 * MM : cosine ? (d0 - (d0 - ds) * (1 + cos(PI * u)) / 2) * MM : ds * MM;
        r[i] = d0 * MM;
    }
    return bk_limb_loss_of(blood, x, d, r, SAMPLES);
}

/* Physics: a healthy tube loses Poiseuille and nothing else; a long throat the developed limits. */
static void test_flow__limits_of_our_model(void **state)
{
    (void)state;
    const bk_limb_loss plain = tube(3, 3, 10, 20, false);
    assert_int_equal(plain.n, 0);
    assert_near(bk_limb_loss_at(&plain, blood, 2 * ML), 70.42, 0.01);
    for (double ds = 0.9; ds < 2.7; ds += 0.2) {
        bk_limb_loss limb = tube(3, ds, 10, 40, true);
        assert_int_equal(limb.n, 1);
        double last = 0;
        for (double q = 0.1; q < 5; q += 0.1) { /* losses rise with flow */
            const double now = bk_limb_loss_at(&limb, blood, q * ML);
            assert_true(now > last);
            last = now;
        }
    }
}

/* The profile that is followed: a plug in a straight tube against Shah & London, a parabola against Poiseuille, and
   behind a step every jet becomes a parabola again. */
static void test_flow__profile(void **state)
{
    (void)state;
    const double d = 1 * MM, q = 500 * PI * blood.viscosity_pa_s * d / (4 * blood.density_kg_m3);
    const double unit = blood.density_kg_m3 / 2 * pow(q / bk_circle(d), 2);
    bk_profile plug = {.flow = q, .excess = 1e-3};
    double at = 0;
    for (double x = 1e-6; x < 0.2; x *= 1.1) { /* x+ */
        bk_profile_pass(&plug, 1, blood, d, d, (x - at) * d * 500);
        at = x;
        if (x > 5e-5)
            assert_near(plug.drop / unit, bk_shah_london(x), 0.06 * bk_shah_london(x));
    }
    assert_near(plug.excess, 1.0 / 3, 1e-3);
    bk_profile parabola = bk_profile_developed(q);
    bk_profile_pass(&parabola, 1, blood, d, d, 10 * MM);
    assert_near(parabola.drop, bk_poiseuille(blood, d, 10 * MM, q), 1e-6 * parabola.drop);
    bk_profile_pass(&parabola, 1, blood, d, 3 * d, 0); /* a free jet: momentum kept, so pressure too */
    assert_near((1 + parabola.excess) / (4.0 / 3), 9, 0.1);
    assert_near(parabola.drop, bk_poiseuille(blood, d, 10 * MM, q), 0.02 * unit);
    bk_profile_pass(&parabola, 1, blood, 3 * d, 3 * d, 100 * MM);
    assert_near(parabola.excess, 1.0 / 3, 1e-3);
}

/* In-vitro 90 % area stenosis: measured 14, 24, 32, 50.3 mmHg at 55, 79, 89, 115 ml/min (ASME IMECE2004, paper
   43-306586, abstract; geometry from memory). The two simple laws bracket it. */
static void test_flow__in_vitro_stenosis(void **state)
{
    (void)state;
    static const double q[] = {55, 79, 89, 115}, measured[] = {14, 24, 32, 50.3};
    const double x[] = {0, 6 * MM, 6.75 * MM, 8.25 * MM}, d[] = {3 * MM, 0.95 * MM, 0.95 * MM, 3 * MM};
    const double r[] = {3 * MM, 3 * MM, 3 * MM, 3 * MM};
    const bk_limb_loss limb = bk_limb_loss_of(blood, x, d, r, 4);
    const bk_young_tsai law = bk_young_tsai_of(blood, 3 * MM, 0.95 * MM, 8.25 * MM);
    for (int i = 0; i < 4; i++) {
        const double flow = q[i] * ML / 60;
        const double low = (limb.friction * flow + law.squared * flow * flow) / BK_PA_PER_MMHG;
        const double high = (law.linear * flow + law.squared * flow * flow) / BK_PA_PER_MMHG;
        assert_true(low < measured[i] && measured[i] < high);
        const double ours = bk_limb_loss_at(&limb, blood, flow) / BK_PA_PER_MMHG;
        print_message("# in vitro %g ml/min: %.1f ours %.1f in %.1f..%.1f\n", q[i], measured[i], ours, low, high);
        assert_true(low < ours && ours < high);
    }
}

/* One lesion, bed and nothing else: Young-Tsai, D0 3.2, Ds 1.28, Ls 10 mm, 180 ml/min, Pa 100, Pv 5. */
static void test_flow__coupled_and_fixed_flow(void **state)
{
    (void)state;
    bk_network n = {.blood = blood, .aortic_pa = 100 * BK_PA_PER_MMHG, .venous_pa = 5 * BK_PA_PER_MMHG};
    n.limb[BK_DISTAL] = tube(3.2, 1.28, 10, 10.0001, false);
    n.limb[BK_DISTAL].model = BK_LOSS_YOUNG_TSAI;
    n.limb[BK_PROXIMAL] = tube(30, 30, 1, 0.001, false);
    n.limb[BK_SIDE].occluded = true;
    n.bed[BK_DISTAL] = bk_bed_of(n.aortic_pa, n.venous_pa, 3 * ML);
    n.bed[BK_SIDE] = n.bed[BK_DISTAL];
    const double fixed = bk_limb_loss_at(&n.limb[BK_DISTAL], blood, 3 * ML);
    assert_near(1 - fixed / n.aortic_pa, 0.646, 0.002);
    const bk_network_state s = bk_network_solve(&n);
    assert_true(s.solved);
    assert_near(s.end_pa[BK_DISTAL] / n.aortic_pa, 0.773, 0.002);
    assert_near(s.flow[BK_DISTAL] * 60 / ML, 137, 1);
    assert_near(s.flow[BK_SIDE], 0, 0);
    assert_near(s.end_pa[BK_SIDE], n.venous_pa, 1e-9);
    n.collateral[BK_SIDE] = 3 * n.bed[BK_SIDE]; /* a quarter of the way from venous to aortic: 28.75 mmHg */
    assert_near(bk_network_solve(&n).end_pa[BK_SIDE] / BK_PA_PER_MMHG, 28.75, 1e-6);
}

/* Public nozzle benchmark (Hariharan, J Biomech Eng 2011;133:041002; data 10.17917/C78G69, public domain):
   drop from z = -90.32 to 0 in units of rho Vt^2/2, mean of the three laboratories that agree. */
static void test_flow__nozzle(void **state)
{
    (void)state;
    static const double re[] = {2000, 3500, 5000, 6500}, measured[] = {2.0967, 1.74, 1.6367, 1.6033};
    const bk_blood fluid = {3.5e-3, 1056};
    const double x[] = {0, 22.685 * MM}, d[] = {12 * MM, 4 * MM}, r[] = {12 * MM, 4 * MM};
    const bk_limb_loss cone = bk_limb_loss_of(fluid, x, d, r, 2);
    for (int i = 0; i < 4; i++) {
        const double q = re[i] * PI * 4 * MM * 3.5e-3 / (4 * 1056), unit = 1056 / 2.0 * pow(q / bk_circle(4 * MM), 2);
        const double s = 1.0 / 9, drop = cone.friction * q / unit + (1 - s * s) * (1 - s * s) +
                                         bk_shah_london(bk_entrance(fluid, 40 * MM, q));
        assert_near(drop, measured[i], 0.06 * measured[i]);
    }
    /* the engine itself over the whole nozzle, -90.32 to +32 mm: files 243, 468, 763 at Re 2000 and 3500 */
    const double z[] = {0, 27.635, 50.32, 90.319, 90.32, 122.32}, w[] = {12, 12, 4, 4, 12, 12};
    double zm[6], wm[6], hm[6];
    for (int i = 0; i < 6; i++) {
        zm[i] = z[i] * MM;
        wm[i] = w[i] * MM;
        hm[i] = 12 * MM;
    }
    const bk_limb_loss nozzle = bk_limb_loss_of(fluid, zm, wm, hm, 6);
    static const double total[] = {(2931 + 3099 + 3095) / 3.0, (7661 + 8089 + 7671) / 3.0};
    for (int i = 0; i < 2; i++) {
        const double drop = bk_limb_loss_at(&nozzle, fluid, re[i] * PI * 4 * MM * 3.5e-3 / (4 * 1056));
        print_message("# nozzle, whole, Re %g: ours %.0f, measured %.0f Pa\n", re[i], drop, total[i]);
        /* the rig shows no recovery by z = 32 mm, ours has all of it, 2/9 of the head: low, by at most that */
        assert_true(drop < total[i] && drop > 0.85 * total[i]);
    }
    for (int i = 0; i < 6; i++) {
        zm[i] = (122.32 - z[5 - i]) * MM;
        wm[i] = w[5 - i] * MM;
    }
    const bk_limb_loss turned = bk_limb_loss_of(fluid, zm, wm, hm, 6);
    /* conical direction: measured totals at throat Re 500, 2000 and 3500 lie between Young-Tsai and the sharp entry */
    static const double flow[] = {5.206e-6, 2.0825e-5, 3.644e-5};
    static const double low_total[] = {224, 2748, 7004}, high_total[] = {259, 3320, 7426};
    const bk_young_tsai law = bk_young_tsai_of(fluid, 12 * MM, 4 * MM, 40 * MM);
    for (int i = 0; i < 3; i++) {
        const double q = flow[i], unit = 1056 / 2.0 * pow(q / bk_circle(4 * MM), 2);
        const double lower = law.linear * q + law.squared * q * q;
        const double upper = unit * (bk_shah_london(bk_entrance(fluid, 40 * MM, q)) + 0.5 * (1 - 1.0 / 9)) +
                             bk_expansion_flat(1056, bk_circle(4 * MM), bk_circle(12 * MM), q);
        assert_true(low_total[i] > 0.98 * lower && high_total[i] < 1.02 * upper);
        const double ours = bk_limb_loss_at(&turned, fluid, q);
        print_message("# nozzle, turned: ours %.0f, measured %.0f to %.0f Pa\n", ours, low_total[i], high_total[i]);
        assert_true(ours > lower && ours < upper);
    }
}

/* A side branch of 2.25 mm with an ostial narrowing, 60 ml/min unobstructed, Pa 100, Pv 5 mmHg: Pd/Pa. */
static double jailed(double ds_mm, double ls_mm, bk_loss_model model)
{
    bk_network n = {.blood = blood, .aortic_pa = 100 * BK_PA_PER_MMHG, .venous_pa = 5 * BK_PA_PER_MMHG};
    n.limb[BK_SIDE] = tube(2.25, ds_mm, ls_mm, ls_mm + 0.01, false);
    n.limb[BK_SIDE].model = model;
    n.limb[BK_PROXIMAL] = tube(30, 30, 1, 0.001, false);
    n.limb[BK_DISTAL].occluded = true;
    n.bed[BK_SIDE] = n.bed[BK_DISTAL] = bk_bed_of(n.aortic_pa, n.venous_pa, 1 * ML);
    const bk_network_state s = bk_network_solve(&n);
    assert_true(s.solved);
    return s.end_pa[BK_SIDE] / n.aortic_pa;
}

/* Young-Tsai column worked apart from this program; 0.89 computed flow for a 75 % carina shift and below 0.75 for
   1 to 2 cm of 75 % (Na, Korean Circ J 2011;41:91). */
static void test_flow__jailed_ostium(void **state)
{
    (void)state;
    assert_near(jailed(2.25 * 0.25, 10, BK_LOSS_YOUNG_TSAI), 0.444, 0.003);
    assert_near(jailed(2.25 * 0.50, 10, BK_LOSS_YOUNG_TSAI), 0.911, 0.003);
    assert_near(jailed(2.25 * 0.40, 10, BK_LOSS_YOUNG_TSAI), 0.807, 0.003);
    const double oval = bk_shifted_ostium_mm(2.25, 75, 0), round = bk_shifted_ostium_mm(2.25, 75, 1);
    assert_near(oval, 1.125, 1e-9); /* area of the ellipse: a quarter */
    assert_near(round, 0.5625, 1e-9);
    assert_true(jailed(2.25 * 0.25, 10, BK_LOSS_CURVE) < 0.50);
    const double best = jailed(oval, 1, BK_LOSS_CURVE), worst = jailed(round, 1, BK_LOSS_CURVE);
    print_message("# jailed 75 %%: oval %.3f, round %.3f\n", best, worst);
    assert_true(best > 0.90);
    assert_true(worst < 0.89 && 0.89 < best);
}

/* Vassilev & Gil 2008: stenosis = cos(angle), 70 % at 45.6 degrees; nothing at and beyond 90. */
static void test_flow__carina_cosine(void **state)
{
    (void)state;
    assert_near(bk_carina_stenosis_pct(45.6), 70, 0.1);
    assert_near(bk_carina_stenosis_pct(60), 50, 1e-9);
    assert_near(bk_carina_stenosis_pct(110), 0, 1e-9);
}

static bk_fact given(double value)
{
    return (bk_fact){bk_qty_of(value, (double)NAN, BK_ENTERED), BK_FROM_ANATOMY};
}

static bk_facts example(void)
{
    const bk_fact nothing = {bk_qty_absent(), BK_FROM_NOWHERE};
    bk_facts f = {.distal_side_deg = nothing, .proximal_side_deg = given(130), .scale_sd_pct = 2, .measurement = -1};
    const double reference[] = {3.5, 3.0, 2.0}, mld[] = {3.4, 1.3, 1.0};
    for (int k = 0; k < BK_LIMBS; k++)
        f.limb[k] = (bk_limb_facts){.reference_mm = given(reference[k]), .mld_mm = given(mld[k]),
                                    .lesion_length_mm = given(10), .length_mm = nothing, .vessel_length_mm = nothing};
    return f;
}

/* D1 3.0, D2 2.0, exponent 2.4: by hand (2/3)^2.4 = 0.378. Continuity and pressures must close for any draw. */
static void test_flow__network_of_a_case(void **state)
{
    (void)state;
    const bk_facts f = example();
    const bk_flow_scene scene = bk_flow_scene_of(&f, BK_LAD_DIAGONAL, 8.4);
    const bk_evidence_set *e = bk_evidence_builtin();
    const bk_flow_draw best = bk_flow_draw_of(&scene, e, NULL);
    const bk_network n = bk_flow_network_of(&scene, &best, BK_UNTREATED, 5);
    assert_near(n.bed[BK_DISTAL] / n.bed[BK_SIDE], pow(2.0 / 3, 2.4), 1e-9);
    assert_near(scene.shift_deg, 50, 1e-9); /* the parent's axis continued, not the bent distal main vessel */
    bk_random random;
    bk_random_seed(&random, 5);
    for (int i = 0; i < 500; i++) {
        const bk_flow_draw draw = bk_flow_draw_of(&scene, e, &random);
        for (int t = 0; t < BK_TREATMENTS; t++) {
            const bk_network net = bk_flow_network_of(&scene, &draw, (bk_treatment)t, 5);
            const bk_network_state s = bk_network_solve(&net);
            assert_true(s.solved);
            assert_near(s.flow[BK_PROXIMAL], s.flow[BK_DISTAL] + s.flow[BK_SIDE], 1e-15);
            for (int k = BK_DISTAL; k < BK_LIMBS; k++)
                assert_near(s.end_pa[k], s.end_pa[BK_PROXIMAL] - bk_limb_loss_at(&net.limb[k], net.blood, s.flow[k]), 1);
        }
    }
}

/* Normal LAD: 3.7 to 1.9 mm (Dodge 1992) over 109.5 mm, 293 ml/min at its ostium falling as D^2.4 by its branches;
   drawn from the aorta and developing. Published: 43 (SD 23) mmHg/(l/min) at that flow, 12.6 (SD 6.7) mmHg (Fournier
   2021). */
static void test_flow__normal_lad(void **state)
{
    (void)state;
    enum { PIECES = 200 };
    const double length = 109.5 * MM, inlet = 293 * ML / 60, unit = 1050 / 2.0 * pow(inlet / bk_circle(3.7 * MM), 2);
    double loss = unit + unit * 1.25; /* acceleration, and all of the excess of developing flow */
    for (int i = 0; i < PIECES; i++) {
        const double d = (3.7 - 1.8 * (i + 0.5) / PIECES) * MM;
        loss += bk_poiseuille(blood, d, length / PIECES, inlet * pow(d / (3.7 * MM), 2.4));
    }
    print_message("# normal LAD: %.1f mmHg\n", loss / BK_PA_PER_MMHG);
    assert_near(loss / BK_PA_PER_MMHG, 12.6, 6.7);
}

/* Seiler 1993: shares go with tree length, whatever the magnification; %FMM and grams as published. */
static void test_flow__territory(void **state)
{
    (void)state;
    bk_facts f = example();
    bk_patient man = {.sex = BK_MALE, .height_cm = bk_qty_of(175, 0, BK_ENTERED), .weight_kg = bk_qty_of(80, 0, BK_ENTERED)};
    f.limb[BK_DISTAL].vessel_length_mm = given(60);
    f.limb[BK_SIDE].vessel_length_mm = given(40);
    const bk_territory a = bk_territory_of(&f, &man, BK_LAD_DIAGONAL, bk_evidence_builtin());
    f.limb[BK_DISTAL].vessel_length_mm = given(72);
    f.limb[BK_SIDE].vessel_length_mm = given(48);
    const bk_territory b = bk_territory_of(&f, &man, BK_LAD_DIAGONAL, bk_evidence_builtin());
    assert_near(a.lv_grams, 161.7, 0.05); /* Brumback 2010's form, worked apart from this program */
    assert_near(a.grams[BK_TERRITORY_LENGTHS][BK_SIDE].value, 20, 1e-9); /* 40 % of 50 g */
    assert_near(a.grams[BK_TERRITORY_LENGTHS][BK_SIDE].value, b.grams[BK_TERRITORY_LENGTHS][BK_SIDE].value, 1e-9);
    /* share by diameters at 2.4: 0.378/1.378; table of the split: 2.39 gives 0.275, 2.42 gives 0.273 */
    assert_near(a.grams[BK_TERRITORY_DIAMETERS][BK_SIDE].value / 50, 0.2745, 1e-3);
    assert_near(a.percent[BK_TERRITORY_SITE][BK_SIDE].value, 5.9, 1e-9);
    const bk_patient unknown = {.sex = BK_SEX_NOT_SAID};
    assert_true(isnan(bk_territory_of(&f, &unknown, BK_LAD_DIAGONAL, bk_evidence_builtin()).lv_grams));
    assert_false(bk_territory_of(&f, &man, BK_SITE_OTHER, bk_evidence_builtin()).known[BK_TERRITORY_LENGTHS]);
}

/* Gibson 1996: 36.2 frames of a normal LAD are 21.3 corrected; 18.1 frames at 15/s are the same. Velocities by hand:
   14.7, 9.3, 9.8 cm in 36.2, 22.2, 20.4 thirtieths of a second. */
static void test_flow__frame_count(void **state)
{
    (void)state;
    const bk_evidence_set *e = bk_evidence_builtin();
    const bk_count lad = bk_count_of(18.1 / 15, 1 / 15.0, BK_COUNT_LAD, e);
    assert_near(lad.frames, 36.2, 1e-9);
    assert_near(lad.corrected, 21.3, 0.01);
    assert_near(lad.half_width * 1.7, 2, 1e-9);
    assert_near(lad.velocity_cm_s, 12.2, 0.05);
    assert_near(bk_count_of(22.2 / 30, 1 / 30.0, BK_COUNT_LCX, e).velocity_cm_s, 12.6, 0.05);
    assert_near(bk_count_of(20.4 / 30, 1 / 30.0, BK_COUNT_RCA, e).velocity_cm_s, 14.4, 0.05);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flow__poiseuille),         cmocka_unit_test(test_flow__young_tsai),
        cmocka_unit_test(test_flow__developing_flow),    cmocka_unit_test(test_flow__expansion),
        cmocka_unit_test(test_flow__limits_of_our_model), cmocka_unit_test(test_flow__profile),
        cmocka_unit_test(test_flow__in_vitro_stenosis),
        cmocka_unit_test(test_flow__coupled_and_fixed_flow), cmocka_unit_test(test_flow__nozzle),
        cmocka_unit_test(test_flow__jailed_ostium), cmocka_unit_test(test_flow__carina_cosine),
        cmocka_unit_test(test_flow__network_of_a_case), cmocka_unit_test(test_flow__territory),
        cmocka_unit_test(test_flow__normal_lad), cmocka_unit_test(test_flow__frame_count),
    };
    cmocka_set_message_output(CM_OUTPUT_TAP);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
