/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The cine: the contrast front comes from the catheter, fills the tree and washes out while the heart beats.
 */
#include <math.h>

#include "phantom/scene.h"

#define FRAME_TIME_MS (1000.0 / 15)
#define MOVING_SHARE 0.6 /* of the beat; the rest of it is still (late diastole) */

/* Displacement within the beat: out and back, with a smaller loop across. */
static ph_vec heart_moved(ph_vec along, ph_vec across, double phase)
{
    if (phase >= MOVING_SHARE)
        return (ph_vec){0, 0, 0};
    const double x = phase / MOVING_SHARE, out = sin(PH_PI * x);
    return ph_vec_along(ph_vec_times(out * out, along), sin(2 * PH_PI * x) * out, across);
}

static double least_filling(const ph_scene *scene, const ph_moment *moment)
{
    double least = 1;
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        least = fmin(least, ph_scene_filling(scene, i, scene->limb[i].click_mm, moment));
    return least;
}

static void draw_single(ph_scene *scene)
{
    scene->best_frame = 1;
    scene->moment[0] = (ph_moment){.phase_pct = 75, .front_mm = 1e4, .front_width_mm = 1, .strength = 1};
}

static void draw_frame(const ph_scene *scene, ph_moment *m, const double pace[4], const ph_vec move[2])
{
    const double start_ms = pace[0], speed = pace[1], away_ms = pace[2], phase0 = pace[3];
    const double phase = fmod(m->time_ms / scene->beat_ms + phase0, 1);
    m->phase_pct = 100 * phase;
    m->moved_mm = heart_moved(move[0], move[1], phase);
    m->front_mm = (m->time_ms - start_ms) * speed;
    m->front_width_mm = 5;
    m->strength = m->time_ms < away_ms ? 1 : exp(-(m->time_ms - away_ms) / 700);
}

static int32_t choose_best(const ph_scene *scene)
{
    int32_t best = 1;
    double best_score = -INFINITY;
    for (int32_t i = 0; i < scene->options.frames; i++) {
        const ph_moment *m = &scene->moment[i];
        const double score = least_filling(scene, m) - 0.2 * ph_vec_length(m->moved_mm);
        if (score > best_score + 1e-3) {
            best_score = score;
            best = i + 1;
        }
    }
    return best;
}

void ph_scene_draw_moments(ph_scene *scene, bk_random *random)
{
    const int32_t n = scene->options.frames;
    scene->frame_time_ms = FRAME_TIME_MS;
    scene->beat_ms = bk_random_between(random, 750, 1000);
    const double phase0 = bk_random_unit(random);
    const ph_carm *carm = &scene->view[0].carm;
    const double turn = bk_random_between(random, 0, 2 * PH_PI), size = bk_random_between(random, 1.0, 2.0);
    const ph_vec along =
        ph_vec_along(ph_vec_times(size * cos(turn), carm->right), size * sin(turn), carm->up);
    const ph_vec move[2] = {along, ph_vec_times(0.3, ph_vec_cross(carm->to_detector, along))};
    if (n == 1) {
        draw_single(scene);
        return;
    }
    /* the whole tree is full after at most half of the run, whatever its length; 120-220 mm/s when there is
     * time */
    const double run_ms = n * FRAME_TIME_MS, start_ms = 0.12 * run_ms;
    const double tree_mm =
        scene->limb[BK_PHANTOM_PROXIMAL].length_mm +
        fmax(scene->limb[BK_PHANTOM_DISTAL].length_mm, scene->limb[BK_PHANTOM_SIDE].length_mm) + 15;
    const double speed = fmax(bk_random_between(random, 0.12, 0.22), tree_mm / (0.35 * run_ms));
    const double pace[4] = {start_ms, speed, 0.72 * run_ms, phase0};
    for (int32_t i = 0; i < n; i++) {
        scene->moment[i].time_ms = i * FRAME_TIME_MS;
        draw_frame(scene, &scene->moment[i], pace, move);
    }
    scene->best_frame = choose_best(scene);
    const ph_vec rest = ph_scene_best(scene)->moved_mm;
    for (int32_t i = 0; i < n; i++)
        scene->moment[i].moved_mm = ph_vec_sub(scene->moment[i].moved_mm, rest);
}
