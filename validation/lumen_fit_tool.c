/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The lumen fit alone, on a picture and axes made elsewhere; for check_optimum.py.

   Reads doubles from stdin: rows, columns, mm per px, PSF sigma in px, scatter fraction, its SD; rows x
   columns intensities; then for each of the three limbs n, step, first, and n times x, y, diameter (px).
   Prints one JSON object. */
#include <stdio.h>
#include <stdlib.h>

#include "core/image/lumen.h"

static double *take(bk_arena *arena, size_t n)
{
    double *out = BK_NEW(arena, n, double, NULL);
    if (out == NULL || fread(out, sizeof *out, n, stdin) != n) {
        fputs("lumen_fit_tool: input ended early, doubles were expected\n", stderr);
        exit(3);
    }
    return out;
}

static bk_lumen_start take_limb(bk_arena *arena)
{
    const double *const head = take(arena, 3);
    const size_t n = (size_t)head[0];
    const double *const table = take(arena, 3 * n);
    bk_pt_px *axis = BK_NEW(arena, n, bk_pt_px, NULL);
    double *diameter = BK_NEW(arena, n, double, NULL);
    for (size_t k = 0; axis && diameter && k < n; k++) {
        axis[k] = (bk_pt_px){table[3 * k], table[3 * k + 1]};
        diameter[k] = table[3 * k + 2];
    }
    return (bk_lumen_start){axis, diameter, n, head[1], head[2]};
}

static void list(const char *name, const double *v, size_t n, size_t stride, const char *end)
{
    printf("\"%s\":[", name);
    for (size_t k = 0; k < n; k++)
        printf("%s%.9g", k ? "," : "", v[k * stride]);
    printf("]%s", end);
}

static void show(const bk_lumen_fit *fit)
{
    printf("{\"psf_sigma_px\":%.9g,\"psf_sd_px\":%.9g,\"scatter_fraction\":%.9g,\"noise_gain\":%.9g,"
           "\"rounds\":%d,\"converged\":%d,"
           "\"limbs\":[",
           fit->psf_sigma_px, fit->psf_sd_px, fit->scatter_fraction, fit->noise_gain, fit->rounds,
           fit->converged);
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++) {
        const bk_lumen_limb *const l = &fit->limb[k];
        printf("%s{\"first_px\":%.9g,\"step_px\":%.9g,\"knots\":%zu,\"density_per_px\":%.9g,\"density_sd\":%."
               "9g,\"noise\":%.9g,",
               k ? "," : "", l->first_px, l->step_px, l->knots_n, l->density_per_px, l->density_sd, l->noise);
        list("x_px", &l->axis[0].x, l->n, 2, ",");
        list("y_px", &l->axis[0].y, l->n, 2, ",");
        list("diameter_px", l->diameter_px, l->n, 1, ",");
        list("sd_px", l->sd_px, l->n, 1, "}");
    }
    puts("]}");
}

int main(void)
{
    bk_arena arena;
    bk_err err = {0};
    bk_lumen_fit fit;
    bk_lumen_start start[BK_LUMEN_LIMBS];
    bk_arena_init(&arena, (size_t)1 << 30);
    const double *const head = take(&arena, 6);
    const size_t rows = (size_t)head[0], cols = (size_t)head[1];
    const double *const values = take(&arena, rows * cols);
    const bk_image image = {BK_NEW(&arena, rows * cols, float, NULL), (int32_t)rows, (int32_t)cols};
    for (size_t k = 0; image.px && k < rows * cols; k++)
        image.px[k] = (float)values[k];
    for (size_t k = 0; k < BK_LUMEN_LIMBS; k++)
        start[k] = take_limb(&arena);
    const bk_lumen_options options = {
        .mm_per_px = head[2], .psf_sigma_px = head[3], .scatter_fraction = head[4], .scatter_sd = head[5]};
    const bk_status status = bk_lumen_fit_limbs(&image, start, &options, &arena, &fit, &err);
    if (status == BK_OK)
        show(&fit);
    else
        fprintf(stderr, "lumen_fit_tool: %s\n", err.message);
    bk_arena_clear(&arena);
    return status == BK_OK ? 0 : 1;
}
