/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the parts of the phantom share: the drawn scene. Lengths along a limb count from the branch point,
 * growing away. */
#ifndef BK_PHANTOM_SCENE_H
#define BK_PHANTOM_SCENE_H

#include "base/random.h"
#include "phantom/carm.h"
#include "phantom/law.h"
#include "phantom/path.h"
#include "phantom/phantom.h"

#define PH_CROSSING_MAX 3
#define PH_VIEWS_MAX 2

typedef struct ph_lesion {
    bool present, ostial;
    double throat_mm, before_mm, after_mm; /* throat, and the half lengths towards and away from the branch */
    double stenosis_pct;                   /* by area-equivalent diameter, at the throat */
    double eccentricity;                   /* 0 central .. 1 one wall stays straight */
    double toward_rad;                     /* direction of the shift in (n, b) */
    double ratio;                          /* short / long axis at the throat; 1 round */
    double ellipse_rad;                    /* direction of the long axis */
} ph_lesion;

typedef struct ph_limb {
    double reference_mm; /* healthy diameter at the branch */
    double taper;        /* mm/mm; the proximal limb widens away from the branch, the others narrow */
    double click_mm;     /* measured range ends here */
    double length_mm;    /* the vessel goes on to here */
    ph_lesion lesion;
} ph_limb;

/* Curvature along one normal: a constant and two waves [1/mm]. */
typedef struct ph_bend {
    double constant, size[2], wave_mm[2], phase[2];
} ph_bend;

typedef struct ph_density {
    double per_mm, size[2], wave_mm[2], phase[2]; /* relative waves, 0 at the branch */
} ph_density;

/* Contrast and motion of one frame. */
typedef struct ph_moment {
    double time_ms, phase_pct;
    ph_vec moved_mm;
    double front_mm, front_width_mm; /* how far the contrast has come along the tree, from the catheter */
    double strength;                 /* 0..1, falls when it washes out */
} ph_moment;

typedef struct ph_view {
    ph_carm carm;
    ph_vec shift_mm; /* of all anatomy in this view */
} ph_view;

typedef struct ph_catheter {
    bool filled;
    int french;
    double inner_mm, wall_per_mm, fill_per_mm;
    double straight_mm[2]; /* arc lengths between which the shaft is straight */
    ph_tube outer, inner;
} ph_catheter;

/* Physics of the picture. */
typedef struct ph_optics {
    double scatter;            /* scatter / primary */
    double scatter_mm;         /* width (sigma) of the scatter field at the detector */
    double psf_sigma_mm;       /* Gaussian blur at the detector */
    double photons;            /* a pixel, median of the background */
    double electronic_photons; /* SD of the electronic noise */
} ph_optics;

typedef struct ph_scene {
    bk_phantom_options options;
    ph_branch_law law;
    ph_vec branch;
    double carina_deg; /* between the axes at the branch, in space */
    ph_limb limb[BK_PHANTOM_LIMBS];
    ph_tube main, side;                 /* main: proximal at negative arc length */
    ph_tube healthy_main, healthy_side; /* without lesions */
    double blend_mm;
    ph_density density[BK_PHANTOM_LIMBS];
    ph_optics optics;
    int views;
    ph_view view[PH_VIEWS_MAX];
    bool has_catheter;
    ph_catheter catheter;
    int crossings;
    ph_tube crossing[PH_CROSSING_MAX];
    double crossing_per_mm;
    bool has_wire;
    int wire_limb; /* BK_PHANTOM_DISTAL or BK_PHANTOM_SIDE */
    ph_tube wire;
    double frame_time_ms, beat_ms;
    int32_t best_frame;
    ph_moment moment[BK_PHANTOM_FRAMES_MAX];
} ph_scene;

/** The lumen of the bifurcation; with lesions left out when healthy. */
ph_bundle ph_scene_lumen(const ph_scene *scene, bool healthy);
/** Section of a limb at a distance from the branch. */
ph_tube_node ph_scene_section(const ph_scene *scene, int limb, double s_mm);
ph_vec ph_scene_centre(const ph_scene *scene, int limb, double s_mm);
/** Healthy diameter expected at a distance from the branch (no flare at the branch point). */
double ph_scene_reference_mm(const ph_scene *scene, int limb, double s_mm);
/** Contrast density [1/mm] at a place of the lumen in a frame's moment. */
double ph_scene_density(const ph_scene *scene, ph_place place, const ph_moment *moment);
/** Share 0..1 of the full contrast at a distance along a limb. */
double ph_scene_filling(const ph_scene *scene, int limb, double s_mm, const ph_moment *moment);
/** C-arm of a view as seen by the anatomy of a frame. */
ph_carm ph_scene_carm(const ph_scene *scene, int view, const ph_moment *moment);
/** The moment all positions of the truth refer to. */
const ph_moment *ph_scene_best(const ph_scene *scene);

/** Calibres, lesions, lengths, density: everything that does not depend on a direction in space. */
void ph_scene_draw_limbs(ph_scene *scene, bk_random *random);
/** Axes from branch, directions and bends that are drawn here; widths from the limbs. */
bk_status ph_scene_draw_tree(ph_scene *scene, bk_random *random, bk_arena *arena, bk_err *err) BK_MUST_CHECK;
/** C-arm positions, distances and the shift between views. */
void ph_scene_draw_views(ph_scene *scene, bk_random *random);
/** Does every view show the limbs inside the picture, apart from each other and not too foreshortened? */
bool ph_scene_is_clear(const ph_scene *scene);
/** Catheter at the proximal end, crossing vessels, wire. *fits is false when no free place was found. */
bk_status ph_scene_draw_devices(ph_scene *scene, bk_random *random, bk_arena *arena, bool *fits,
                                bk_err *err) BK_MUST_CHECK;
/** Arc lengths [mm] between which the straight shaft is seen; false when that is under 12 mm. */
bool ph_catheter_seen(const ph_scene *scene, const ph_carm *carm, double range_mm[2]);
/** Contrast front and heart beat of every frame. */
void ph_scene_draw_moments(ph_scene *scene, bk_random *random);

/** One of n in 0..n-1. */
int ph_draw_index(bk_random *random, int n);

#endif
