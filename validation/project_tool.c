/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The program's C-arm alone, for check_views.py. Lines of "primary secondary sid sod pitch size x y z" in; "px_x px_y ray_x ray_y ray_z
   mm_per_px" out, the ray through that pixel. */
#include <stdio.h>

#include "core/anatomy/space/carm.h"

int main(void)
{
    double primary, secondary, sid, sod, pitch, x, y, z;
    int size;
    bk_err err = {0};
    while (scanf("%lf %lf %lf %lf %lf %d %lf %lf %lf", &primary, &secondary, &sid, &sod, &pitch, &size, &x, &y, &z) == 9) { /* allow: a test tool, plain numbers */
        bk_carm c = {.primary_deg = primary, .secondary_deg = secondary, .sid_mm = sid, .sod_mm = sod, .spacing_mm = {pitch, pitch}, .rows = size, .cols = size};
        if (bk_carm_set(&c, &err) != BK_OK) {
            fprintf(stderr, "project_tool: %s\n", err.message);
            return 1;
        }
        const bk_vec p = bk_vec_of(x, y, z);
        const bk_pt_px at = bk_carm_project(&c, p);
        const bk_vec ray = bk_carm_ray(&c, at);
        printf("%.17g %.17g %.17g %.17g %.17g %.17g\n", at.x, at.y, ray.v[0], ray.v[1], ray.v[2], bk_carm_mm_per_px(&c, p));
    }
    return 0;
}
