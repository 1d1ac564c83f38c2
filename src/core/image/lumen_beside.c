/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where two limbs run side by side, each lies in the penumbra of the other. Their lumens do not lie over one another, so the
   blurred absorptions add up. */
#include <math.h>

#include "core/image/lumen_internal.h"

/* Up to eight of the pixels beside `limb`, from place k of the list on; returns the place behind the last. */
BK_WIDE static size_t eight(bk_lumen_state *state, size_t limb, bk_lumen_pixels *px, size_t k, double sigma)
{
    const bk_lumen_layout *const layout = &state->layout[limb];
    const double *const u = state->unknown[limb];
    const double middle = 0.5 * layout->cell_px * (double)(layout->cells - 2), begin = layout->start_px + layout->cell_px;
    bk_v8 shift = bk_v8_all(0.0F), diameter = bk_v8_all((float)state->bend_px), density = bk_v8_all(0.0F);
    size_t pixel[BK_V8];
    int n = 0;
    for (; n < BK_V8 && k < px->beside_n; k++) {
        const bk_lumen_beside *const b = &px->beside[k];
        if (b->limb != limb)
            continue;
        const double s = (double)b->s;
        double slope;
        shift[n] = b->x - (float)bk_lumen_spline_at(layout, u, layout->centre, layout->centre_n, BK_LUMEN_CENTRE_CELLS, s);
        diameter[n] = (float)bk_lumen_bent(bk_lumen_spline_at(layout, u, layout->diameter, layout->diameter_n, 1, s),
                                           state->bend_px, &slope);
        density[n] = (float)(state->density[limb][0] + state->density[limb][1] * ((s - begin) / middle - 1.0) + state->log_sigma -
                             state->table_of[limb]->log_density);
        pixel[n++] = b->pixel;
    }
    if (n == 0)
        return k;
    bk_lumen_profile8 p;
    bk_lumen_lookup(state->table_of[limb], shift, diameter, density, (float)(1.0 / sigma), &p);
    for (int lane = 0; lane < n; lane++)
        px->lost[pixel[lane]] += fmaxf(p.w[lane], 0.0F);
    return k;
}

void bk_lumen_limb_lost(bk_lumen_state *state, bk_lumen_pixels *px)
{
    const double sigma = exp(state->log_sigma);
    for (size_t k = 0; k < px->beside_n; k++)
        px->lost[px->beside[k].pixel] = 0.0F;
    for (size_t limb = 0; limb < BK_LUMEN_LIMBS; limb++)
        for (size_t k = 0; k < px->beside_n;)
            k = eight(state, limb, px, k, sigma);
}
