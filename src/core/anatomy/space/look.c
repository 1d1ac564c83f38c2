/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/look.h"

#include "core/anatomy/space/carm.h"
#include "core/image/lumen_vector.h"

/* A C-arm position in floats. */
typedef struct stand {
    float source[3], beam[3], right[3], up[3], sod;
} stand;

/* Pieces as they fall onto the plane through the isocentre [mm there]. */
typedef struct shadow {
    float x[BK_LOOK_PIECES], y[BK_LOOK_PIECES], radius[BK_LOOK_PIECES];
} shadow;

typedef struct sums {
    float seen, near_seen, turn[3]; /* turn: how the seen length changes with a rotation */
} sums;

BK_INLINE bk_v8 dot3(const bk_v8 a[3], const bk_v8 b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

BK_INLINE bk_v8 dot_with(const bk_v8 a[3], const float b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/* Eight pieces: their shadow, and the part of them that lies across the ray. */
BK_INLINE void eight(const bk_look_limb *limb, int k, const stand *from, shadow *out, bk_v8 total[5])
{
    bk_v8 w[3], t[3];
    for (int i = 0; i < 3; i++) {
        w[i] = bk_v8_load(&limb->at[i][k]) - from->source[i];
        t[i] = bk_v8_load(&limb->along[i][k]);
    }
    const bk_v8 scale = from->sod / dot_with(w, from->beam);
    bk_v8_store(&out->x[k], scale * dot_with(w, from->right));
    bk_v8_store(&out->y[k], scale * dot_with(w, from->up));
    bk_v8_store(&out->radius[k], scale * bk_v8_load(&limb->radius[k]));
    const bk_v8 far = 1.0F / bk_v8_sqrt(dot3(w, w)), length = bk_v8_load(&limb->length[k]);
    for (int i = 0; i < 3; i++)
        w[i] *= far;
    const bk_v8 along = dot3(t, w), across2 = bk_v8_max(1.0F - along * along, bk_v8_all(0.0F)), across = bk_v8_sqrt(across2);
    total[0] += length * across;
    total[1] += bk_v8_load(&limb->near_length[k]) * across;
    const bk_v8 pull = length * along / bk_v8_max(across, bk_v8_all(1e-3F));
    for (int i = 0; i < 3; i++) {
        const int j = (i + 1) % 3, l = (i + 2) % 3;
        total[2 + i] += pull * (t[j] * w[l] - t[l] * w[j]);
    }
}

/* For each piece of a and of b the smallest gap to the other limb, in SDs of the gap. */
BK_INLINE void gaps(const shadow *a, int a_n, const shadow *b, int b_padded, const float firm[BK_LOOK_PIECES][BK_LOOK_PIECES],
                    float *a_z, float *b_z)
{
    for (int k = 0; k < a_n; k++) {
        bk_v8 least = bk_v8_all(INFINITY);
        for (int j = 0; j < b_padded; j += 8) {
            const bk_v8 dx = bk_v8_load(&b->x[j]) - a->x[k], dy = bk_v8_load(&b->y[j]) - a->y[k];
            const bk_v8 gap = bk_v8_sqrt(dx * dx + dy * dy) - (bk_v8_load(&b->radius[j]) + a->radius[k]);
            const bk_v8 z = gap * bk_v8_load(&firm[k][j]);
            least = bk_v8_min(least, z);
            bk_v8_store(&b_z[j], bk_v8_min(bk_v8_load(&b_z[j]), z));
        }
        for (int i = 0; i < 8; i++)
            a_z[k] = least[i] < a_z[k] ? least[i] : a_z[k];
    }
}

BK_WIDE static void sweep(const bk_look_scene *scene, const stand *from, sums out[BK_LIMBS], float gap_z[BK_LIMBS][BK_LOOK_PIECES])
{
    shadow cast[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++) {
        bk_v8 total[5] = {0};
        for (int k = 0; k < scene->limb[i].padded; k += 8) {
            eight(&scene->limb[i], k, from, &cast[i], total);
            bk_v8_store(&gap_z[i][k], bk_v8_all(1e6F));
        }
        for (int k = scene->limb[i].n; k < scene->limb[i].padded; k++)
            cast[i].x[k] = 1e6F; /* padding lies nowhere */
        out[i] = (sums){bk_v8_sum(total[0]), bk_v8_sum(total[1]), {bk_v8_sum(total[2]), bk_v8_sum(total[3]), bk_v8_sum(total[4])}};
    }
    for (int i = 0; i < BK_LIMBS; i++) {
        const int j = (i + 1) % BK_LIMBS;
        gaps(&cast[i], scene->limb[i].n, &cast[j], scene->limb[j].padded, scene->firm[i], gap_z[i], gap_z[j]);
    }
}

/* Probability that a gap of z SDs is none. */
static float covered_by(const bk_look_scene *scene, float z)
{
    if (z >= 4)
        return 0;
    if (z <= -4)
        return 1;
    const float at = 256 - 64 * z;
    const int i = (int)at;
    return scene->normal_cdf[i] + (at - (float)i) * (scene->normal_cdf[i + 1] - scene->normal_cdf[i]);
}

static void covered(const bk_look_scene *scene, int i, bk_look *out)
{
    const bk_look_limb *limb = &scene->limb[i];
    double whole = 0, near = 0;
    for (int k = 0; k < limb->n; k++) {
        const double p = (double)covered_by(scene, out->gap_z[i][k]);
        whole += (double)limb->free_length[k] * p;
        near += (double)limb->near_free[k] * p;
    }
    out->covered[i] = limb->free_total > 0 ? whole / limb->free_total : 0;
    out->near_covered[i] = limb->near_free_total > 0 ? near / limb->near_free_total : 0;
}

void bk_look_at(const bk_look_scene *scene, double primary_deg, double secondary_deg, bk_look *out)
{
    const double a = primary_deg / 180 * 3.14159265358979323846;
    const bk_vec beam = bk_carm_beam(primary_deg, secondary_deg), right = bk_vec_of(cos(a), sin(a), 0), up = bk_vec_cross(beam, right);
    stand from = {.sod = (float)scene->sod_mm};
    for (int i = 0; i < 3; i++) {
        from.source[i] = (float)(-scene->sod_mm * beam.v[i]);
        from.beam[i] = (float)beam.v[i];
        from.right[i] = (float)right.v[i];
        from.up[i] = (float)up.v[i];
    }
    sums seen[BK_LIMBS];
    sweep(scene, &from, seen, out->gap_z);
    out->ray = bk_vec_unit(bk_vec_along(scene->branch_point, scene->sod_mm, beam));
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_look_limb *limb = &scene->limb[i];
        const double share = (double)seen[i].seen / limb->total, sd = limb->direction_sd;
        const bk_vec any = bk_vec_of((double)seen[i].turn[0], (double)seen[i].turn[1], (double)seen[i].turn[2]);
        const bk_vec turn = bk_vec_along(any, -bk_vec_dot(any, limb->axis), limb->axis);
        out->foreshortening[i] = fmax(1 - share, 0);
        out->near_foreshortening[i] = fmax(1 - (double)seen[i].near_seen / limb->near_total, 0);
        out->foreshortening_sd[i] = sqrt(pow(sd * bk_vec_length(turn) / limb->total, 2) + 0.5 * pow(sd * sd * share, 2));
        covered(scene, i, out);
    }
}
