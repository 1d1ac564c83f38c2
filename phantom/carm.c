/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/carm.h"

void ph_carm_set(ph_carm *carm)
{
    const double a = carm->primary_deg * PH_RAD, b = carm->secondary_deg * PH_RAD;
    carm->to_detector = (ph_vec){sin(a) * cos(b), -cos(a) * cos(b), sin(b)};
    carm->right = (ph_vec){cos(a), sin(a), 0};
    carm->up = (ph_vec){-sin(a) * sin(b), cos(a) * sin(b), cos(b)};
    carm->source = ph_vec_times(-carm->sod_mm, carm->to_detector);
}

static double centre(int32_t n)
{
    return 0.5 * (n - 1);
}

ph_px ph_carm_project(const ph_carm *carm, ph_vec p)
{
    const ph_vec w = ph_vec_sub(p, carm->source);
    const double k = carm->sid_mm / (ph_vec_dot(w, carm->to_detector) * carm->spacing_mm);
    return (ph_px){centre(carm->cols) + k * ph_vec_dot(w, carm->right),
                   centre(carm->rows) - k * ph_vec_dot(w, carm->up)};
}

double ph_carm_mm_per_px(const ph_carm *carm, ph_vec p)
{
    return carm->spacing_mm * ph_vec_dot(ph_vec_sub(p, carm->source), carm->to_detector) / carm->sid_mm;
}

ph_vec ph_carm_ray(const ph_carm *carm, double x_px, double y_px)
{
    ph_vec w = ph_vec_times(carm->sid_mm, carm->to_detector);
    w = ph_vec_along(w, (x_px - centre(carm->cols)) * carm->spacing_mm, carm->right);
    w = ph_vec_along(w, -(y_px - centre(carm->rows)) * carm->spacing_mm, carm->up);
    return ph_vec_unit(w);
}

ph_carm ph_carm_for_moved(const ph_carm *carm, ph_vec shift_mm)
{
    ph_carm moved = *carm;
    moved.source = ph_vec_sub(carm->source, shift_mm);
    return moved;
}
