/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phantom/phantom.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "phantom/body.h"
#include "phantom/detector.h"
#include "phantom/shadow.h"
#include "phantom/truth.h"

#define DRAWS_MAX 4000
#define ARENA_CAP ((size_t)512 * 1024 * 1024)

struct bk_phantom {
    bk_arena arena;
    ph_scene scene;
    ph_body body[PH_VIEWS_MAX];
    float *behind[PH_VIEWS_MAX]; /* body attenuation, made with the first frame of a view */
    ph_exposure exposure[PH_VIEWS_MAX];
    ph_view_truth truth[PH_VIEWS_MAX];
};

bk_phantom_options bk_phantom_defaults(uint64_t seed)
{
    return (bk_phantom_options){.seed = seed,
                                .size = 512,
                                .frames = 1,
                                .bits = 10,
                                .jpeg_ratio = NAN,
                                .medina = {-1, -1, -1},
                                .stenosis_pct = {NAN, NAN, NAN},
                                .lesion_mm = {4, 14},
                                .diameter_mm = {NAN, NAN, NAN},
                                .background = true,
                                .noise = true,
                                .photons = NAN,
                                .density_per_mm = NAN,
                                .density_variation_pct = 5};
}

void bk_phantom_demo(bk_phantom_options *options)
{
    const double diameter[BK_PHANTOM_LIMBS] = {3.6, 3.0, 2.5}, stenosis[BK_PHANTOM_LIMBS] = {62, 70, 74};
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++) {
        options->medina[i] = 1;
        options->diameter_mm[i] = diameter[i];
        options->stenosis_pct[i] = stenosis[i];
    }
    options->lesion_mm[0] = 6;
    options->lesion_mm[1] = 12;
}

/* A stream of its own for each part, so that one option changes one thing. */
static bk_random stream(uint64_t seed, uint64_t part)
{
    bk_random random;
    bk_random_seed(&random, seed * UINT64_C(0x9e3779b97f4a7c15) + part * UINT64_C(0xd1342543de82ef95));
    return random;
}

static bk_status check_range(const char *what, double value, double low, double high, bk_err *err)
{
    if (isnan(value) || (value >= low && value <= high))
        return BK_OK;
    return bk_fail(err, BK_E_USAGE, "%s %g was found, %g to %g was expected", what, value, low, high);
}

static bk_status check_options(const bk_phantom_options *o, bk_err *err)
{
    if (o->size != 512 && o->size != 1024)
        return bk_fail(err, BK_E_USAGE, "size %d was found, 512 or 1024 was expected", (int)o->size);
    if (o->bits != 8 && o->bits != 10 && o->bits != 12)
        return bk_fail(err, BK_E_USAGE, "%d bits were found, 8, 10 or 12 were expected", (int)o->bits);
    if (!isnan(o->jpeg_ratio) && o->bits != 8)
        return bk_fail(err, BK_E_USAGE, "JPEG with %d bits was found, 8 bits were expected", (int)o->bits);
    const struct {
        const char *what;
        double value, low, high;
    } ranges[] = {{"frames", o->frames, 1, BK_PHANTOM_FRAMES_MAX},
                  {"JPEG ratio", o->jpeg_ratio, 1, 100},
                  {"shift in mm", o->shift_mm, 0, 20},
                  {"shortest lesion in mm", o->lesion_mm[0], 2, 30},
                  {"longest lesion in mm", o->lesion_mm[1], o->lesion_mm[0], 30},
                  {"photons a pixel", o->photons, 10, 1e8},
                  {"contrast density per mm", o->density_per_mm, 0.01, 1},
                  {"density variation in percent", o->density_variation_pct, 0, 30}};
    for (size_t i = 0; i < sizeof ranges / sizeof ranges[0]; i++)
        if (check_range(ranges[i].what, ranges[i].value, ranges[i].low, ranges[i].high, err) != BK_OK)
            return BK_E_USAGE;
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        if (check_range("diameter in mm", o->diameter_mm[i], 1, 6, err) != BK_OK ||
            check_range("stenosis in percent", o->stenosis_pct[i], 0, 95, err) != BK_OK ||
            check_range("Medina digit", o->medina[i], -1, 1, err) != BK_OK)
            return BK_E_USAGE;
    return BK_OK;
}

/* One draw of views, axes and devices, with its truth. *good: the limbs can be told apart, the catheter finds
   room, and the picture shows the lesions that were asked for. */
static bk_status draw_once(bk_phantom *p, bk_random *shape, bk_random *moments, bool *good, bk_err *err)
{
    *good = false;
    ph_scene_draw_views(&p->scene, shape);
    if (ph_scene_draw_tree(&p->scene, shape, &p->arena, err) != BK_OK)
        return err->status;
    if (!ph_scene_is_clear(&p->scene))
        return BK_OK;
    if (ph_scene_draw_devices(&p->scene, shape, &p->arena, good, err) != BK_OK || !*good)
        return err->status;
    bk_random same = *moments;
    ph_scene_draw_moments(&p->scene, &same);
    for (int i = 0; i < p->scene.views && *good; i++) {
        if (ph_truth_of_view(&p->scene, i, &p->arena, &p->truth[i], err) != BK_OK)
            return err->status;
        *good = ph_truth_is_as_made(&p->scene, &p->truth[i]);
    }
    return BK_OK;
}

static bk_status build(bk_phantom *p, bk_err *err)
{
    const uint64_t seed = p->scene.options.seed;
    bk_random limbs = stream(seed, 1), shape = stream(seed, 2), moments = stream(seed, 3);
    ph_scene_draw_limbs(&p->scene, &limbs);
    for (int i = 0; i < PH_VIEWS_MAX; i++) {
        bk_random random = stream(seed, 10 + (uint64_t)i);
        ph_body_draw(&p->body[i], &random);
    }
    const bk_arena_mark mark = bk_arena_take_mark(&p->arena);
    for (int i = 0; i < DRAWS_MAX; i++) {
        bool good;
        if (draw_once(p, &shape, &moments, &good, err) != BK_OK)
            return err->status;
        if (good)
            return BK_OK;
        bk_arena_rewind(&p->arena, mark);
    }
    return bk_fail(
        err, BK_E_NOTHING,
        "no clear view was found in %d draws, another seed, shorter lesions or a stenosis that fits its "
        "Medina digit were expected",
        DRAWS_MAX);
}

bk_status bk_phantom_new(const bk_phantom_options *options, bk_phantom **out, bk_err *err)
{
    *out = NULL;
    if (check_options(options, err) != BK_OK)
        return BK_E_USAGE;
    bk_phantom *p = calloc(1, sizeof *p);
    if (!p)
        return bk_fail(err, BK_E_INTERNAL, "out of memory for a phantom");
    bk_err local = {0};
    p->scene.options = *options;
    bk_arena_init(&p->arena, ARENA_CAP);
    if (build(p, &local) != BK_OK) {
        bk_phantom_free(p);
        return bk_fail(err, local.status, "%s", local.message);
    }
    *out = p;
    return BK_OK;
}

void bk_phantom_free(bk_phantom *phantom)
{
    if (!phantom)
        return;
    bk_arena_clear(&phantom->arena);
    free(phantom);
}

const bk_phantom_options *bk_phantom_used(const bk_phantom *phantom)
{
    return &phantom->scene.options;
}

int bk_phantom_views(const bk_phantom *phantom)
{
    return phantom->scene.views;
}

bk_phantom_geometry bk_phantom_geometry_of(const bk_phantom *phantom, int view)
{
    const ph_carm *c = &phantom->scene.view[view].carm;
    return (bk_phantom_geometry){c->primary_deg, c->secondary_deg, c->sid_mm, c->sod_mm,
                                 c->spacing_mm,  c->rows,          c->cols};
}

double bk_phantom_frame_time_ms(const bk_phantom *phantom)
{
    return phantom->scene.frame_time_ms;
}

size_t bk_phantom_r_waves(const bk_phantom *phantom, int32_t *out, size_t n)
{
    size_t found = 0;
    for (int32_t i = 1; i < phantom->scene.options.frames; i++) {
        if (phantom->scene.moment[i].phase_pct >= phantom->scene.moment[i - 1].phase_pct)
            continue;
        if (found < n)
            out[found] = i + 1;
        found++;
    }
    return found;
}

/* Body, and the exposure that gives its median the asked-for quanta. */
static bk_status prepare_view(bk_phantom *p, int view, bk_err *err)
{
    const ph_scene *scene = &p->scene;
    const ph_carm *c = &scene->view[view].carm;
    const ph_optics *o = &scene->optics;
    const size_t n = (size_t)c->rows * (size_t)c->cols;
    float *behind = BK_NEW(&p->arena, n, float, err);
    if (!behind)
        return err->status;
    if (scene->options.background)
        ph_body_attenuation(&p->body[view], c->rows, c->cols, c->spacing_mm * c->sod_mm / c->sid_mm, behind);
    const bk_arena_mark mark = bk_arena_take_mark(&p->arena);
    float *field = BK_NEW(&p->arena, n, float, err);
    if (!field)
        return err->status;
    for (size_t i = 0; i < n; i++)
        field[i] = (float)exp(-(double)behind[i]);
    double median, top;
    if (ph_detector_scatter(field, c->rows, c->cols, o->scatter, o->scatter_mm / c->spacing_mm, &p->arena,
                            err) ||
        ph_detector_quantile(field, n, 0.5, &p->arena, &median, err) ||
        ph_detector_quantile(field, n, 0.995, &p->arena, &top, err))
        return err->status;
    bk_arena_rewind(&p->arena, mark);
    p->exposure[view] = (ph_exposure){.photons_per_unit = o->photons / median,
                                      .top_photons = o->photons * top / median,
                                      .electronic_photons = o->electronic_photons,
                                      .noise = scene->options.noise,
                                      .bits = scene->options.bits,
                                      .curve = scene->options.curve};
    p->behind[view] = behind;
    return BK_OK;
}

static bk_status render(bk_phantom *p, int view, int32_t frame, uint16_t *px, bk_err *err)
{
    const ph_scene *scene = &p->scene;
    const ph_carm *c = &scene->view[view].carm;
    const ph_optics *o = &scene->optics;
    float *field = BK_NEW(&p->arena, (size_t)c->rows * (size_t)c->cols, float, err);
    if (!field)
        return err->status;
    bk_random random = stream(scene->options.seed, 1000 + 1000 * (uint64_t)view + (uint64_t)frame);
    if (ph_shadow(scene, view, &scene->moment[frame - 1], p->behind[view], &p->arena, field, err) ||
        ph_detector_scatter(field, c->rows, c->cols, o->scatter, o->scatter_mm / c->spacing_mm, &p->arena,
                            err) ||
        ph_detector_store(field, c->rows, c->cols, &p->exposure[view], &random, &p->arena, px, err))
        return err->status;
    return BK_OK;
}

bk_status bk_phantom_frame(bk_phantom *phantom, int view, int32_t frame, uint16_t *px, size_t capacity,
                           bk_err *err)
{
    const ph_scene *scene = &phantom->scene;
    const size_t n = (size_t)scene->options.size * (size_t)scene->options.size;
    if (view < 0 || view >= scene->views || frame < 1 || frame > scene->options.frames || capacity < n)
        return bk_fail(err, BK_E_USAGE,
                       "view %d, frame %d and room for %zu pixels were found, a view below %d, a frame "
                       "up to %d and room for %zu were expected",
                       view, (int)frame, capacity, scene->views, (int)scene->options.frames, n);
    bk_err local = {0};
    if (!phantom->behind[view] && prepare_view(phantom, view, &local) != BK_OK)
        return bk_fail(err, local.status, "%s", local.message);
    const bk_arena_mark mark = bk_arena_take_mark(&phantom->arena);
    const bk_status status = render(phantom, view, frame, px, &local);
    bk_arena_rewind(&phantom->arena, mark);
    return status == BK_OK ? BK_OK : bk_fail(err, local.status, "%s", local.message);
}

bool bk_phantom_linear_values(const bk_phantom *phantom, float *out, size_t n)
{
    if (phantom->scene.options.curve != BK_PHANTOM_CURVE_LOG || n != (size_t)1 << phantom->scene.options.bits)
        return false;
    for (size_t i = 0; i < n; i++)
        out[i] = (float)(65535 * exp(((double)i / (double)(n - 1) - 1) * PH_LOG_SPAN));
    return true;
}

static bk_json *three(const double values[BK_PHANTOM_LIMBS])
{
    bk_json *array = bk_json_array();
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        bk_json_push(array, bk_json_new_real(values[i]));
    return array;
}

static bk_json *options_json(const bk_phantom_options *o)
{
    static const char *const curves[] = {"linear", "log", "display"};
    static const char *const tags[] = {"sid", "sod", "spacing", "angles", "intensity"};
    bk_json *j = bk_json_object(), *missing = bk_json_array(), *medina = bk_json_array();
    bk_json_put_integer(j, "size", o->size);
    bk_json_put_integer(j, "frames", o->frames);
    bk_json_put_integer(j, "bits", o->bits);
    bk_json_put_bool(j, "two_views", o->two_views);
    bk_json_put_real(j, "jpeg_ratio", o->jpeg_ratio);
    bk_json_put_real(j, "shift_mm", o->shift_mm);
    bk_json_put_text(j, "intensity", curves[o->curve]);
    for (unsigned i = 0; i < 5; i++)
        if (o->missing >> i & 1)
            bk_json_push(missing, bk_json_new_text(tags[i]));
    bk_json_put(j, "missing", missing);
    for (int i = 0; i < BK_PHANTOM_LIMBS; i++)
        bk_json_push(medina, bk_json_new_integer(o->medina[i]));
    bk_json_put(j, "medina", medina);
    bk_json_put(j, "stenosis_pct", three(o->stenosis_pct));
    bk_json_put_reals(j, "lesion_mm", o->lesion_mm, 2, 3);
    bk_json_put(j, "diameter_mm", three(o->diameter_mm));
    bk_json_put_bool(j, "ostial", o->ostial);
    bk_json_put_bool(j, "eccentric", o->eccentric);
    bk_json_put_bool(j, "elliptic", o->elliptic);
    bk_json_put_bool(j, "crossing", o->crossing);
    bk_json_put_bool(j, "wire", o->wire);
    return j;
}

bk_json *bk_phantom_truth(const bk_phantom *phantom)
{
    return ph_truth_document(&phantom->scene, phantom->truth, options_json(&phantom->scene.options));
}
