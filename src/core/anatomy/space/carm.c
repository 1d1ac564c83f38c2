/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "core/anatomy/space/carm.h"

#define DEG (180 / 3.14159265358979323846)

bk_vec bk_carm_beam(double primary_deg, double secondary_deg)
{
    const double a = primary_deg / DEG, b = secondary_deg / DEG;
    return bk_vec_of(sin(a) * cos(b), -cos(a) * cos(b), sin(b));
}

void bk_carm_angles(bk_vec beam, double *primary_deg, double *secondary_deg)
{
    *secondary_deg = DEG * asin(fmin(fmax(beam.v[2], -1), 1));
    *primary_deg = DEG * atan2(beam.v[0], -beam.v[1]);
}

bk_status bk_carm_set(bk_carm *c, bk_err *err)
{
    if (!(c->sod_mm > 0) || !(c->sid_mm > c->sod_mm) || !(c->spacing_mm[0] > 0) || !(c->spacing_mm[1] > 0))
        return bk_fail(err, BK_E_DATA, "SID %g mm, SOD %g mm, spacing %g and %g mm, a SID beyond the SOD and positive spacings were expected",
                       c->sid_mm, c->sod_mm, c->spacing_mm[0], c->spacing_mm[1]);
    const double a = c->primary_deg / DEG, b = c->secondary_deg / DEG;
    c->beam = bk_carm_beam(c->primary_deg, c->secondary_deg);
    c->right = bk_vec_of(cos(a), sin(a), 0);
    c->up = bk_vec_of(-sin(a) * sin(b), cos(a) * sin(b), cos(b));
    c->source = bk_vec_times(-c->sod_mm, c->beam);
    return BK_OK;
}

static double middle(int n)
{
    return 0.5 * (n - 1);
}

bk_pt_px bk_carm_project_with(const bk_carm *c, bk_vec p, bk_vec *dx, bk_vec *dy)
{
    const bk_vec w = bk_vec_sub(p, c->source);
    const double depth = bk_vec_dot(w, c->beam), k = c->sid_mm / depth;
    const double kx = k / c->spacing_mm[1], ky = -k / c->spacing_mm[0];
    const double right = bk_vec_dot(w, c->right), up = bk_vec_dot(w, c->up);
    *dx = bk_vec_times(kx, bk_vec_along(c->right, -right / depth, c->beam));
    *dy = bk_vec_times(ky, bk_vec_along(c->up, -up / depth, c->beam));
    return (bk_pt_px){middle(c->cols) + kx * right, middle(c->rows) + ky * up};
}

bk_pt_px bk_carm_project(const bk_carm *c, bk_vec p)
{
    bk_vec dx, dy;
    return bk_carm_project_with(c, p, &dx, &dy);
}

bk_vec bk_carm_ray(const bk_carm *c, bk_pt_px at)
{
    bk_vec w = bk_vec_times(c->sid_mm, c->beam);
    w = bk_vec_along(w, (at.x - middle(c->cols)) * c->spacing_mm[1], c->right);
    w = bk_vec_along(w, -(at.y - middle(c->rows)) * c->spacing_mm[0], c->up);
    return bk_vec_unit(w);
}

double bk_carm_mm_per_px(const bk_carm *c, bk_vec p)
{
    return c->spacing_mm[1] * bk_vec_dot(bk_vec_sub(p, c->source), c->beam) / c->sid_mm;
}

bk_carm bk_carm_for_moved(const bk_carm *c, bk_vec shift)
{
    bk_carm moved = *c;
    moved.source = bk_vec_sub(c->source, shift);
    return moved;
}

bk_vec bk_carm_meet(const bk_carm *a, bk_pt_px in_a, const bk_carm *b, bk_pt_px in_b, double *gap_mm)
{
    const bk_vec u = bk_carm_ray(a, in_a), v = bk_carm_ray(b, in_b), apart = bk_vec_sub(b->source, a->source);
    const double uv = bk_vec_dot(u, v), sine2 = 1 - uv * uv;
    const double along_u = (bk_vec_dot(apart, u) - uv * bk_vec_dot(apart, v)) / sine2;
    const double along_v = (uv * bk_vec_dot(apart, u) - bk_vec_dot(apart, v)) / sine2;
    const bk_vec p = bk_vec_along(a->source, along_u, u), q = bk_vec_along(b->source, along_v, v);
    *gap_mm = bk_vec_length(bk_vec_sub(q, p));
    return bk_vec_times(0.5, bk_vec_along(p, 1, q));
}
