/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Calibres, lesions and lengths of the three limbs. Every number is drawn whether or not an option replaces
   it, so that one option changes one thing. */
#include <math.h>

#include "phantom/scene.h"

#define CLICK_MIN_MM 18.0
#define CLICK_MAX_MM 38.0
#define HEALTHY_END_MM 4.0 /* between a lesion and the end of the measured range */
#define LUMEN_MIN_MM 0.3

int ph_draw_index(bk_random *random, int n)
{
    return (int)(bk_random_unit(random) * n);
}

static double or_drawn(double given, double drawn)
{
    return isnan(given) ? drawn : given;
}

/* Distal main 2-4 mm, side branch 1.5-3 mm and no larger than it; the mother by a law drawn at random. */
static void draw_calibres(ph_scene *scene, bk_random *random)
{
    const bk_phantom_options *o = &scene->options;
    const double distal = or_drawn(o->diameter_mm[BK_PHANTOM_DISTAL], bk_random_between(random, 2.0, 4.0));
    const double side_top = distal < 3.0 ? distal : 3.0;
    const double side = or_drawn(o->diameter_mm[BK_PHANTOM_SIDE], bk_random_between(random, 1.5, side_top));
    scene->law = (ph_branch_law)ph_draw_index(random, 3);
    const double by_law = ph_law_mother_mm(scene->law, distal, side);
    if (!isnan(o->diameter_mm[BK_PHANTOM_PROXIMAL]))
        scene->law = PH_LAW_GIVEN;
    scene->limb[BK_PHANTOM_PROXIMAL].reference_mm = or_drawn(o->diameter_mm[BK_PHANTOM_PROXIMAL], by_law);
    scene->limb[BK_PHANTOM_DISTAL].reference_mm = distal;
    scene->limb[BK_PHANTOM_SIDE].reference_mm = side;
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        scene->limb[i].taper = bk_random_between(random, 0, 0.012);
}

static void draw_medina(ph_scene *scene, bk_random *random)
{
    const int pattern = ph_draw_index(random, 8);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        if (scene->options.medina[i] < 0)
            scene->options.medina[i] = pattern >> i & 1;
}

static double draw_stenosis(ph_scene *scene, int limb, bk_random *random)
{
    const double tight = bk_random_between(random, 53, 85);
    const double mild = bk_random_between(random, 30, 46);
    const bool none = bk_random_unit(random) < 0.6;
    const double drawn = scene->options.medina[limb] ? tight : none ? 0 : mild;
    const double stenosis = or_drawn(scene->options.stenosis_pct[limb], drawn);
    const double most = 100 * (1 - LUMEN_MIN_MM / scene->limb[limb].reference_mm);
    return stenosis < most ? stenosis : most;
}

/* A lesion that is not ostial keeps clear of the core; one that is has its throat within 1.5 mm of the ostium
   and its steep shoulder inside the core. The core's radius is near that of the mother vessel. */
static void place_lesion(ph_scene *scene, ph_lesion *lesion, bk_random *random)
{
    const double core = 0.5 * scene->limb[BK_PHANTOM_PROXIMAL].reference_mm;
    const double *range = scene->options.lesion_mm;
    const double length = bk_random_between(random, range[0], range[1]);
    const double gap = bk_random_between(random, 0.5, 7.5);
    const double ostium = bk_random_between(random, 0.2, 1.5);
    lesion->ostial = scene->options.ostial;
    if (lesion->ostial) {
        lesion->throat_mm = 1.1 * core + ostium;
        lesion->before_mm = lesion->throat_mm - 0.3 * core;
        lesion->after_mm = length - lesion->before_mm;
        if (lesion->after_mm < 0.5 * length)
            lesion->after_mm = 0.5 * length;
        return;
    }
    lesion->before_mm = lesion->after_mm = 0.5 * length;
    lesion->throat_mm = 1.2 * core + gap + lesion->before_mm;
}

static void draw_lesion(ph_scene *scene, int limb, bk_random *random)
{
    ph_lesion *lesion = &scene->limb[limb].lesion;
    lesion->stenosis_pct = draw_stenosis(scene, limb, random);
    lesion->present = lesion->stenosis_pct > 0;
    place_lesion(scene, lesion, random);
    const double eccentricity = bk_random_between(random, 0.5, 1);
    const double ratio = bk_random_between(random, 0.55, 0.9);
    lesion->toward_rad = bk_random_between(random, 0, 2 * PH_PI);
    lesion->ellipse_rad = bk_random_between(random, 0, PH_PI);
    lesion->eccentricity = scene->options.eccentric ? eccentricity : 0;
    lesion->ratio = scene->options.elliptic ? ratio : 1;
}

static void draw_lengths(ph_scene *scene, int i, bk_random *random)
{
    ph_limb *limb = &scene->limb[i];
    const double lesion_end = limb->lesion.present ? limb->lesion.throat_mm + limb->lesion.after_mm : 0;
    const double low = fmax(CLICK_MIN_MM, lesion_end + HEALTHY_END_MM);
    const double u = bk_random_unit(random);
    limb->click_mm = low < CLICK_MAX_MM ? low + u * (CLICK_MAX_MM - low) : low;
    const double beyond = bk_random_unit(random);
    limb->length_mm = limb->click_mm + (i == BK_PHANTOM_PROXIMAL ? 5 + 5 * beyond : 20 + 20 * beyond);
}

static void draw_density(ph_scene *scene, bk_random *random)
{
    const double drawn = bk_random_between(random, 0.10, 0.30);
    scene->options.density_per_mm = or_drawn(scene->options.density_per_mm, drawn);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        ph_density *d = &scene->density[i];
        d->per_mm = scene->options.density_per_mm;
        for (int j = 0; j < 2; j++) {
            d->size[j] = 0.01 * scene->options.density_variation_pct * bk_random_between(random, 0.3, 0.7);
            d->wave_mm[j] = bk_random_between(random, 25, 70);
            d->phase[j] = bk_random_between(random, 0, 2 * PH_PI);
        }
    }
}

static void draw_optics(ph_scene *scene, bk_random *random)
{
    ph_optics *optics = &scene->optics;
    optics->scatter = bk_random_between(random, 0.05, 0.35);
    optics->scatter_mm = bk_random_between(random, 15, 40);
    optics->psf_sigma_mm =
        bk_random_between(random, 0.25, 0.45) / 2.354820045; /* drawn as full width at half maximum */
    optics->photons = or_drawn(scene->options.photons, bk_random_between(random, 1000, 4000));
    optics->electronic_photons = bk_random_between(random, 2, 6);
    scene->options.photons = optics->photons;
}

void ph_scene_draw_limbs(ph_scene *scene, bk_random *random)
{
    draw_calibres(scene, random);
    draw_medina(scene, random);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        draw_lesion(scene, i, random);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        draw_lengths(scene, i, random);
    draw_density(scene, random);
    draw_optics(scene, random);
    scene->blend_mm = bk_random_between(random, 0.2, 0.5);
    scene->crossing_per_mm = scene->options.density_per_mm * bk_random_between(random, 0.8, 1.1);
}
