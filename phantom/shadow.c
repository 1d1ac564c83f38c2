/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/shadow.h"

#include <math.h>

#define FINE PH_SHADOW_FINE
#define TILE 8        /* pixels a side: the reach of a ray is found per tile */
#define SLACK_MM 0.7  /* around a tube: half a look, rounding where tubes meet */
#define BLUR_MAX_PX 8 /* margin of a tile for the blur */

/* For each tile the stretch of each tube of a bundle that may be met there. */
typedef struct tiles {
    int32_t across, down;
    ph_reach *reach;
} tiles;

typedef struct shadow {
    const ph_scene *scene;
    const ph_moment *moment;
    ph_carm carm; /* as the anatomy sees it */
    int32_t rows, cols, fine_cols;
    float *fine;           /* attenuation on the fine grid */
    unsigned char *marked; /* tiles with any attenuation */
    tiles tiles;
} shadow;

/* Attenuation of a ray's pieces; what a bundle is made of. */
typedef double (*stuff)(const shadow *s, const ph_piece *piece, double per_mm);

static double constant_stuff(const shadow *s, const ph_piece *piece, double per_mm)
{
    (void)s;
    return per_mm * (piece->out_mm - piece->in_mm);
}

/* Simpson's rule over the slowly varying density. */
static double lumen_stuff(const shadow *s, const ph_piece *piece, double per_mm)
{
    (void)per_mm;
    const double a = ph_scene_density(s->scene, piece->at[0], s->moment);
    const double b = ph_scene_density(s->scene, piece->at[1], s->moment);
    const double c = ph_scene_density(s->scene, piece->at[2], s->moment);
    return (a + 4 * b + c) / 6 * (piece->out_mm - piece->in_mm);
}

static void clear_tiles(tiles *t)
{
    for (int32_t i = 0; i < t->across * t->down; i++)
        for (int j = 0; j < PH_BUNDLE_TUBES; j++) {
            t->reach[i].low_mm[j] = INFINITY;
            t->reach[i].high_mm[j] = -INFINITY;
        }
}

static int32_t tile_of(double px, int32_t n)
{
    const double t = floor((px + 0.5) / TILE);
    return t < 0 ? 0 : t > n - 1 ? n - 1 : (int32_t)t;
}

static void mark_tube(shadow *s, const ph_tube *tube, int index)
{
    const double step = 0.5, last = ph_tube_last_mm(tube);
    for (double at = tube->first_mm; at < last + step; at += step) {
        const ph_tube_node node = ph_tube_at(tube, at);
        const ph_px p = ph_carm_project(&s->carm, node.c);
        const double off = hypot(node.off_n_mm, node.off_b_mm);
        const double mm = node.healthy_mm * node.stretch + off + SLACK_MM;
        const double px = mm / ph_carm_mm_per_px(&s->carm, node.c);
        if (p.x + px < -0.5 || p.y + px < -0.5 || p.x - px > s->cols - 0.5 || p.y - px > s->rows - 0.5)
            continue;
        const int32_t r1 = tile_of(p.y + px, s->tiles.down), c1 = tile_of(p.x + px, s->tiles.across);
        for (int32_t r = tile_of(p.y - px, s->tiles.down); r <= r1; r++)
            for (int32_t c = tile_of(p.x - px, s->tiles.across); c <= c1; c++) {
                ph_reach *reach = &s->tiles.reach[r * s->tiles.across + c];
                reach->low_mm[index] = fmin(reach->low_mm[index], fmax(at - step, tube->first_mm));
                reach->high_mm[index] = fmax(reach->high_mm[index], fmin(at + step, last));
            }
    }
}

static void cast_tile(shadow *s, int32_t tile, const ph_bundle *bundle, stuff made_of, double per_mm)
{
    const ph_reach *reach = &s->tiles.reach[tile];
    const int32_t row0 = tile / s->tiles.across * TILE * FINE, col0 = tile % s->tiles.across * TILE * FINE;
    for (int32_t r = row0; r < row0 + TILE * FINE; r++)
        for (int32_t c = col0; c < col0 + TILE * FINE; c++) {
            const double y = (r + 0.5) / FINE - 0.5, x = (c + 0.5) / FINE - 0.5;
            const ph_ray ray = {s->carm.source, ph_carm_ray(&s->carm, x, y)};
            ph_piece piece[PH_PATH_PIECES];
            const int n = ph_path_pieces(bundle, reach, ray, piece);
            double sum = 0;
            for (int i = 0; i < n; i++)
                sum += made_of(s, &piece[i], per_mm);
            s->fine[(size_t)r * (size_t)s->fine_cols + (size_t)c] += (float)sum;
        }
}

static void cast_bundle(shadow *s, const ph_bundle *bundle, stuff made_of, double per_mm)
{
    clear_tiles(&s->tiles);
    for (int i = 0; i < bundle->n; i++)
        mark_tube(s, bundle->tube[i], i);
    for (int32_t t = 0; t < s->tiles.across * s->tiles.down; t++) {
        const ph_reach *reach = &s->tiles.reach[t];
        bool any = false;
        for (int i = 0; i < bundle->n; i++)
            any = any || reach->low_mm[i] <= reach->high_mm[i];
        if (!any)
            continue;
        s->marked[t] = 1;
        cast_tile(s, t, bundle, made_of, per_mm);
    }
}

static void cast_tube(shadow *s, const ph_tube *tube, double per_mm)
{
    const ph_bundle bundle = {{tube, NULL}, 1, 0};
    cast_bundle(s, &bundle, constant_stuff, per_mm);
}

static void cast_scene(shadow *s, const ph_view *view)
{
    const ph_scene *scene = s->scene;
    const ph_bundle lumen = ph_scene_lumen(scene, false);
    cast_bundle(s, &lumen, lumen_stuff, 0);
    if (scene->has_wire) /* steel instead of contrast; 1.55/mm: iron at 50 keV (NIST, from memory) */
        cast_tube(s, &scene->wire, 1.55 - scene->options.density_per_mm);
    for (int i = 0; i < scene->crossings; i++)
        cast_tube(s, &scene->crossing[i], scene->crossing_per_mm * s->moment->strength);
    if (scene->has_catheter) { /* it does not follow the heart beat */
        const ph_catheter *c = &scene->catheter;
        s->carm = ph_carm_for_moved(&view->carm, view->shift_mm);
        cast_tube(s, &c->outer, c->wall_per_mm);
        cast_tube(s, &c->inner, c->fill_per_mm - c->wall_per_mm);
    }
}

/* ---- blur ---- */

typedef struct blur {
    int half; /* fine pixels each side */
    double weight[BLUR_MAX_PX * FINE + 1];
} blur;

static void make_blur(blur *b, double sigma_fine)
{
    const int most = BLUR_MAX_PX * FINE;
    b->half = (int)ceil(4.5 * sigma_fine);
    b->half = b->half < 1 ? 1 : b->half > most ? most : b->half;
    double sum = 0;
    for (int i = 0; i <= b->half; i++) {
        b->weight[i] = exp(-0.5 * (i / sigma_fine) * (i / sigma_fine));
        sum += i ? 2 * b->weight[i] : b->weight[i];
    }
    for (int i = 0; i <= b->half; i++)
        b->weight[i] /= sum;
}

static double clamped(double x, double top)
{
    return x < 0 ? 0 : x > top ? top : x;
}

/* Body between pixel centres, straight in both directions. */
static double body_at(const shadow *s, const float *body, double x, double y)
{
    const double px = clamped(x, s->cols - 1), py = clamped(y, s->rows - 1);
    const int32_t c = px > s->cols - 2 ? s->cols - 2 : (int32_t)px,
                  r = py > s->rows - 2 ? s->rows - 2 : (int32_t)py;
    const float *p = &body[(size_t)r * (size_t)s->cols + (size_t)c];
    const double f = px - c, g = py - r;
    return (1 - g) * ((1 - f) * (double)p[0] + f * (double)p[1]) +
           g * ((1 - f) * (double)p[s->cols] + f * (double)p[s->cols + 1]);
}

#define SPAN (TILE * FINE)
#define PATCH (SPAN + 2 * BLUR_MAX_PX * FINE)

/* Intensity of a tile and its margin on the fine grid; the picture's border is repeated. */
static void patch_intensity(const shadow *s, const float *body, int32_t row0, int32_t col0, int half,
                            double patch[PATCH][PATCH])
{
    const int n = SPAN + 2 * half;
    const int32_t fine_rows = s->rows * FINE;
    for (int i = 0; i < n; i++)
        for (int j = 0; j < n; j++) {
            int32_t r = row0 - half + i, c = col0 - half + j;
            r = r < 0 ? 0 : r >= fine_rows ? fine_rows - 1 : r;
            c = c < 0 ? 0 : c >= s->fine_cols ? s->fine_cols - 1 : c;
            const double a = body_at(s, body, (c + 0.5) / FINE - 0.5, (r + 0.5) / FINE - 0.5);
            patch[i][j] = exp(-a - (double)s->fine[(size_t)r * (size_t)s->fine_cols + (size_t)c]);
        }
}

static double blurred(const double *at, ptrdiff_t stride, const blur *b)
{
    double sum = b->weight[0] * at[0];
    for (int i = 1; i <= b->half; i++)
        sum += b->weight[i] * (at[i * stride] + at[-i * stride]);
    return sum;
}

/* Blur along rows, then average to pixels along rows, then the same down: the order does not matter. */
static void blur_tile(const shadow *s, const float *body, int32_t tile, const blur *b, float *out)
{
    double patch[PATCH][PATCH], narrow[PATCH][TILE];
    const int32_t row0 = tile / s->tiles.across * TILE, col0 = tile % s->tiles.across * TILE;
    patch_intensity(s, body, row0 * FINE, col0 * FINE, b->half, patch);
    for (int i = 0; i < SPAN + 2 * b->half; i++)
        for (int c = 0; c < TILE; c++) {
            double sum = 0;
            for (int f = 0; f < FINE; f++)
                sum += blurred(&patch[i][b->half + c * FINE + f], 1, b);
            narrow[i][c] = sum / FINE;
        }
    for (int r = 0; r < TILE; r++)
        for (int c = 0; c < TILE; c++) {
            double sum = 0;
            for (int f = 0; f < FINE; f++)
                sum += blurred(&narrow[b->half + r * FINE + f][c], TILE, b);
            out[(size_t)(row0 + r) * (size_t)s->cols + (size_t)(col0 + c)] = (float)(sum / FINE);
        }
}

static bool near_marked(const shadow *s, int32_t tile)
{
    const int32_t r = tile / s->tiles.across, c = tile % s->tiles.across;
    for (int32_t i = r > 0 ? r - 1 : r; i <= r + 1 && i < s->tiles.down; i++)
        for (int32_t j = c > 0 ? c - 1 : c; j <= c + 1 && j < s->tiles.across; j++)
            if (s->marked[i * s->tiles.across + j])
                return true;
    return false;
}

static bk_status prepare(shadow *s, bk_arena *arena, bk_err *err)
{
    const size_t n_fine = (size_t)s->rows * (size_t)s->cols * FINE * FINE;
    s->tiles.across = s->cols / TILE;
    s->tiles.down = s->rows / TILE;
    const size_t n_tiles = (size_t)s->tiles.across * (size_t)s->tiles.down;
    s->fine_cols = s->cols * FINE;
    s->fine = BK_NEW(arena, n_fine, float, err);
    s->marked = BK_NEW(arena, n_tiles, unsigned char, err);
    s->tiles.reach = BK_NEW(arena, n_tiles, ph_reach, err);
    return s->fine && s->marked && s->tiles.reach ? BK_OK : err->status;
}

bk_status ph_shadow(const ph_scene *scene, int view, const ph_moment *moment, const float *body,
                    bk_arena *arena, float *out, bk_err *err)
{
    const ph_view *v = &scene->view[view];
    shadow s = {.scene = scene,
                .moment = moment,
                .carm = ph_scene_carm(scene, view, moment),
                .rows = v->carm.rows,
                .cols = v->carm.cols};
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    if (prepare(&s, arena, err) != BK_OK)
        return err->status;
    cast_scene(&s, v);
    blur b;
    make_blur(&b, scene->optics.psf_sigma_mm / v->carm.spacing_mm * FINE);
    for (size_t i = 0; i < (size_t)s.rows * (size_t)s.cols; i++)
        out[i] = (float)exp(-(double)body[i]);
    for (int32_t t = 0; t < s.tiles.across * s.tiles.down; t++)
        if (near_marked(&s, t))
            blur_tile(&s, body, t, &b, out);
    bk_arena_rewind(arena, mark);
    return BK_OK;
}
