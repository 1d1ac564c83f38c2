/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/repeat.h"

#include <math.h>
#include <string.h>

#include "app/intensity.h"
#include "app/repeat_course.h"
#include "base/arena.h"
#include "base/format.h"
#include "core/anatomy/calibration.h"
#include "core/anatomy/corrections.h"
#include "core/image/follow_line.h"
#include "core/limb.h"

#define MEMORY_CAP ((size_t)1 << 30)

static const char *const values[] = {"mld_mm", "reference_mm", "stenosis_pct"};
static const int decimals[] = {4, 4, 2};
#define VALUES 3
#define POINTS_MAX (BK_LIMBS + BK_LIMBS * BK_VIA_MAX)
#define WIDER 1.25 /* a lumen changes by less between frames of a beat or two (choice of this project) */
#define SIDE_MAX 65536 /* rows and columns of DICOM are 16 bits */

typedef struct row {
    int32_t frame;
    bk_pt_px point[POINTS_MAX]; /* the clicks, then the way-points */
    bk_carried carried;
    char why[BK_LIMBS][160]; /* why values of a limb are missing; "" when none is */
    bool followed;    /* the points are where the vessel is */
    double match;     /* of the worst point; NaN in the frame that was clicked in */
    char reason[248]; /* "" when measured */
    double value[BK_LIMBS][VALUES];
} row;

typedef struct repeat {
    const bk_measure_options *options;
    bk_dicom *file;
    bk_dicom_info info;
    bk_arena arena[2]; /* of the frame followed from and of the one followed to, in turns */
    bk_arena keep;
    bk_corrections said; /* in the frame that was clicked in */
    size_t points_n;     /* clicks and way-points */
    double mm_per_px;  /* of the answer; NaN: no scale */
    row rows[BK_REPEAT_MAX];
    int n, own; /* rows; index of the frame that was clicked in */
} repeat;

/* Roughly is enough: of the answer, or the usual one. */
static double rough_scale(const repeat *r)
{
    return isfinite(r->mm_per_px) ? r->mm_per_px : bk_scale_usual(r->info.cols);
}

static void choose_frames(repeat *r, int n)
{
    const int32_t frames = r->info.frames, own = r->options->frame;
    r->n = n < frames ? n : (int)frames;
    int32_t first = own - r->n / 2;
    first = first + r->n - 1 > frames ? frames - r->n + 1 : first;
    first = first < 1 ? 1 : first;
    for (int i = 0; i < r->n; i++) {
        r->rows[i].frame = first + i;
        r->rows[i].match = NAN;
    }
    r->own = (int)(own - first);
    r->rows[r->own].followed = true;
    bk_pt_px *point = r->rows[r->own].point;
    for (int k = 0; k < BK_LIMBS; k++)
        point[k] = (bk_pt_px){r->options->click_px[k][0], r->options->click_px[k][1]};
    for (size_t i = 0; i < r->said.via.n; i++) {
        const bk_way_point *v = &BK_ITEMS(r->said.via, bk_way_point)[i];
        point[BK_LIMBS + i] = (bk_pt_px){v->x_px, v->y_px};
    }
    r->points_n = BK_LIMBS + r->said.via.n;
}

/* A point in words: "side click", "distal way-point". */
static void name_point(const repeat *r, size_t k, char out[32])
{
    const bool click = k < BK_LIMBS;
    const int limb = click ? (int)k : BK_ITEMS(r->said.via, bk_way_point)[k - BK_LIMBS].limb - 1;
    bk_format(out, 32, "%s %s", bk_limb_name(limb), click ? "click" : "way-point");
}

/* Say in the row why a point is lost, if it is. */
static void judge_point(const repeat *r, row *to, const row *from, size_t k, const bk_followed *found)
{
    char name[32];
    name_point(r, k, name);
    const bk_pt_px p = found->at;
    if (!(found->match >= BK_FOLLOW_MATCH))
        bk_format(to->reason, sizeof to->reason,
                  "the vessel at the %s was lost between frames %d and %d: correlation %.2f, at least %.2f was expected", name,
                  (int)from->frame, (int)to->frame, found->match, BK_FOLLOW_MATCH);
    else if (!(found->left >= BK_FOLLOW_LEFT))
        bk_format(to->reason, sizeof to->reason,
                  "contrast at the %s fell to %.0f %% between frames %d and %d, at least %.0f %% was expected", name,
                  100 * found->left, (int)from->frame, (int)to->frame, 100 * BK_FOLLOW_LEFT);
    else if (!(p.x >= 0 && p.y >= 0 && p.x <= r->info.cols - 1 && p.y <= r->info.rows - 1))
        bk_format(to->reason, sizeof to->reason, "the %s leaves the picture in frame %d", name, (int)to->frame);
}

/* The limb that a click is said to be in. */
static int limb_of_click(const repeat *r, size_t click)
{
    bk_pt_px place[BK_LIMBS];
    for (int i = 0; i < BK_LIMBS; i++)
        place[i] = (bk_pt_px){i, i};
    bk_corrections_swap(&r->said, place);
    int limb = 0;
    while (limb + 1 < BK_LIMBS && place[limb].x != (double)click)
        limb++;
    return limb;
}

/* Where a click is lost and its limb, alone, is hidden, it goes to the end of its course: the others can still be measured. */
static bool carry_hidden_click(const repeat *r, row *to, size_t k, const bk_followed *found)
{
    const int limb = k < BK_LIMBS ? limb_of_click(r, k) : 0;
    if (k >= BK_LIMBS || bk_followed_well(found) || !bk_carried_hides_only(&to->carried, limb))
        return false;
    to->point[k] = bk_carried_end(&to->carried, limb);
    return true;
}

/* Take over where the points are now, or say in the row why they are lost. */
static void judge(const repeat *r, row *to, const row *from, const bk_followed *found)
{
    to->match = 1;
    for (size_t k = 0; k < r->points_n; k++) {
        to->point[k] = found[k].at;
        to->match = fmin(to->match, found[k].match);
        if (!carry_hidden_click(r, to, k, &found[k]) && !to->reason[0])
            judge_point(r, to, from, k, &found[k]);
    }
    to->followed = !to->reason[0];
}

/* Follow the points into row i; on success `to` is the frame's log image, in arena `there`. */
static bk_status follow_into(repeat *r, const bk_image *from, int last, int i, bk_arena *there, bk_image *to, bk_err *err)
{
    const double mm_per_px = rough_scale(r);
    bk_followed found[POINTS_MAX];
    bk_err local = {0};
    row *to_row = &r->rows[i];
    bk_status status = bk_app_log_frame(r->file, &r->info, to_row->frame, there, to, &local);
    if (status == BK_E_DATA) {
        bk_format(to_row->reason, sizeof to_row->reason, "%s", local.message);
        return BK_OK;
    }
    if (status != BK_OK)
        return bk_fail(err, status, "%s", local.message);
    status = bk_follow_points(from, to, r->rows[last].point, r->points_n, mm_per_px, there, found, err);
    if (status == BK_OK)
        status = bk_carried_follow(from, to, to_row->frame, mm_per_px, &r->rows[last].carried, there, &to_row->carried, err);
    if (status == BK_OK)
        judge(r, to_row, &r->rows[last], found);
    return status;
}

/* Carry the points from the frame that was clicked in to one end of the window. Where they are lost the walk ends:
   seen again after a gap, a vessel may be another one. A frame that cannot be decoded is stepped over. */
static bk_status carry(repeat *r, int step, bk_err *err)
{
    bk_image from = {0}, to = {0};
    int here = 0, last = r->own, i = r->own + step;
    bk_arena_init(&r->arena[0], MEMORY_CAP);
    bk_arena_init(&r->arena[1], MEMORY_CAP);
    bk_status status = bk_app_log_frame(r->file, &r->info, r->rows[last].frame, &r->arena[here], &from, err);
    int32_t lost = 0; /* frame */
    for (; status == BK_OK && lost == 0 && i >= 0 && i < r->n; i += step) {
        status = follow_into(r, &from, last, i, &r->arena[1 - here], &to, err);
        if (isfinite(r->rows[i].match) && !r->rows[i].followed)
            lost = r->rows[i].frame;
        const bool moved_on = status == BK_OK && r->rows[i].followed;
        bk_arena_clear(&r->arena[moved_on ? here : 1 - here]);
        bk_arena_init(&r->arena[moved_on ? here : 1 - here], MEMORY_CAP);
        if (moved_on) {
            from = to;
            here = 1 - here;
            last = i;
        }
    }
    for (; status == BK_OK && i >= 0 && i < r->n; i += step)
        bk_format(r->rows[i].reason, sizeof r->rows[i].reason, "not followed: the vessel was lost in frame %d", (int)lost);
    bk_arena_clear(&r->arena[0]);
    bk_arena_clear(&r->arena[1]);
    return status;
}

static void take_values(const bk_json *answer, row *out)
{
    const bk_json *segments = bk_json_get(answer, "segments");
    for (int k = 0; k < BK_LIMBS; k++)
        for (int v = 0; v < VALUES; v++)
            out->value[k][v] = bk_json_number(bk_json_get(bk_json_get(bk_json_get(segments, bk_limb_name(k)), values[v]), "value"));
}

/* What was said, with the way-points where they are in a row's frame. Stretches are mm from the branch point, which goes
   with the vessel itself. */
static bk_status said_in(const repeat *r, const row *at, bk_arena *arena, bk_corrections *out, bk_err *err)
{
    bk_way_point *via = BK_NEW(arena, r->said.via.n, bk_way_point, err);
    if (!via)
        return err->status;
    for (size_t i = 0; i < r->said.via.n; i++)
        via[i] = (bk_way_point){BK_ITEMS(r->said.via, bk_way_point)[i].limb, at->point[BK_LIMBS + i].x, at->point[BK_LIMBS + i].y};
    *out = r->said;
    out->via = (bk_list){.items = via, .n = r->said.via.n};
    return BK_OK;
}

/* The larger of a limb's MLD and reference in a row; NaN when neither was measured. */
static double widest(const row *of, int limb)
{
    return fmax(of->value[limb][0], of->value[limb][1]);
}

/* Why a limb's values cannot be used, if so: it is hidden, was measured somewhere else than it was carried to, has an
   occlusion that comes and goes, or has become wider than a lumen does within seconds. */
static bool unusable(const repeat *r, const bk_json *answer, row *out, int i)
{
    const row *own = &r->rows[r->own];
    const double off_mm = bk_carried_off_mm(&out->carried, i, answer, rough_scale(r));
    char *why = out->why[i];
    if (out->carried.hidden[i][0])
        bk_format(why, sizeof out->why[i], "%s", out->carried.hidden[i]);
    else if (off_mm > BK_OFF_COURSE_MM)
        bk_format(why, sizeof out->why[i],
                  "cannot say: the axis measured lies up to %.1f mm from where the limb was followed to, at most %.1f mm was expected",
                  off_mm, BK_OFF_COURSE_MM);
    else if (isfinite(own->value[i][0]) && (out->value[i][0] <= 0) != (own->value[i][0] <= 0))
        bk_format(why, sizeof out->why[i], "cannot say: the limb is occluded in one of the frames %d and %d only", (int)out->frame,
                  (int)own->frame);
    else if (widest(out, i) > WIDER * widest(own, i))
        bk_format(why, sizeof out->why[i],
                  "cannot say: %.2f mm wide, %.2f mm in frame %d: perhaps another vessel lies over or beside it", widest(out, i),
                  widest(own, i), (int)own->frame);
    else
        return false;
    return true;
}

/* No values where they cannot be used; nor a reference that the branching law took from a limb that is hidden. */
static void check_limbs(const repeat *r, const bk_json *answer, row *out)
{
    const bk_json *segments = bk_json_get(answer, "segments");
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_json *origin = bk_json_get(bk_json_get(bk_json_get(segments, bk_limb_name(i)), "reference_mm"), "origin");
        if (bk_carried_hides(&out->carried) && strcmp(bk_json_text(origin), "derived") == 0) {
            out->value[i][1] = out->value[i][2] = (double)NAN;
            bk_format(out->why[i], sizeof out->why[i], "reference: cannot say: the branching law would take it from a limb that is hidden");
        }
        if (!unusable(r, answer, out, i))
            continue;
        for (int v = 0; v < VALUES; v++)
            out->value[i][v] = (double)NAN;
        bk_format(out->carried.hidden[i], sizeof out->carried.hidden[i], "%s", out->why[i]);
    }
}

static bool off_course(const repeat *r, const row *of, const bk_json *answer)
{
    bool off = false;
    for (int i = 0; i < BK_LIMBS; i++)
        off = off || bk_carried_off_mm(&of->carried, i, answer, rough_scale(r)) > BK_OFF_COURSE_MM;
    return off;
}

/* The frame is measured like any other; only where the paths leave the carried course, or a limb is hidden, are they
   held to it. */
static bk_status measure_on_course(const repeat *r, const row *of, bk_measure_options *options, bk_json **answer, bk_err *err)
{
    if (bk_carried_hides(&of->carried))
        options->course = &of->carried.course;
    const bk_status status = bk_app_measure(options, answer, err);
    if (status != BK_OK || options->course || !off_course(r, of, *answer))
        return status;
    bk_json_free(*answer);
    options->course = &of->carried.course;
    return bk_app_measure(options, answer, err);
}

static bk_status measure_row(repeat *r, row *out, bk_err *err)
{
    bk_measure_options options = *r->options;
    bk_json *answer;
    bk_err local = {0};
    bk_corrections said;
    if (said_in(r, out, &r->keep, &said, err) != BK_OK)
        return err->status;
    options.corrections_read = &said;
    options.frame = out->frame;
    options.mm_per_px = r->mm_per_px;
    options.has_catheter = options.has_marker = false; /* the scale is taken from the answer */
    options.overlay_png = NULL;
    for (int k = 0; k < BK_LIMBS; k++) {
        options.click_px[k][0] = out->point[k].x;
        options.click_px[k][1] = out->point[k].y;
    }
    const bk_status status = measure_on_course(r, out, &options, &answer, &local);
    if (status == BK_E_INTERNAL || status == BK_E_IO)
        return bk_fail(err, status, "%s", local.message);
    if (status != BK_OK) {
        bk_format(out->reason, sizeof out->reason, "%s", local.message);
        return BK_OK;
    }
    take_values(answer, out);
    check_limbs(r, answer, out);
    bk_json_free(answer);
    return BK_OK;
}

static void put_points(bk_json *out, const repeat *all, const row *r)
{
    if (!r->followed) {
        bk_json_put_null(out, "clicks_px");
        return;
    }
    bk_json *clicks = bk_json_object(), *via = bk_json_array();
    for (int k = 0; k < BK_LIMBS; k++) {
        const double at[2] = {r->point[k].x, r->point[k].y};
        bk_json_put_reals(clicks, bk_limb_name(k), at, 2, 2);
    }
    bk_json_put(out, "clicks_px", clicks);
    for (size_t i = 0; i < all->said.via.n; i++) {
        bk_json *point = bk_json_object();
        bk_json_put_text(point, "limb", bk_limb_name(BK_ITEMS(all->said.via, bk_way_point)[i].limb - 1));
        bk_json_put_fixed(point, "x_px", r->point[BK_LIMBS + i].x, 2);
        bk_json_put_fixed(point, "y_px", r->point[BK_LIMBS + i].y, 2);
        bk_json_push(via, point);
    }
    bk_json_put(out, "via", via);
}

static void put_course(bk_json *segment, const row *r, int limb)
{
    const bk_course *course = &r->carried.course;
    double x[BK_COURSE_MAX], y[BK_COURSE_MAX];
    const size_t n = r->followed ? course->n[limb] : 0;
    for (size_t k = 0; k < n; k++) {
        x[k] = course->at[limb][k].x;
        y[k] = course->at[limb][k].y;
    }
    bk_json_put_text(segment, "reason", r->why[limb][0] ? r->why[limb] : NULL);
    bk_json_put_reals(segment, "course_x_px", x, n, 2);
    bk_json_put_reals(segment, "course_y_px", y, n, 2);
}

static bk_json *row_json(const repeat *all, const row *r)
{
    const bool measured = !r->reason[0];
    bk_json *out = bk_json_object(), *segments = bk_json_object();
    bk_json_put_integer(out, "frame", r->frame);
    bk_json_put_text(out, "status", measured ? "ok" : "failed");
    bk_json_put_text(out, "reason", measured ? NULL : r->reason);
    bk_json_put_fixed(out, "match", r->match, 3);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *segment = bk_json_object();
        for (int v = 0; v < VALUES; v++)
            bk_json_put_fixed(segment, values[v], measured ? r->value[k][v] : (double)NAN, decimals[v]);
        put_course(segment, r, k);
        bk_json_put(segments, bk_limb_name(k), segment);
    }
    put_points(out, all, r);
    bk_json_put(out, "segments", segments);
    return out;
}

/* Mean and SD between frames of one value; NaN in a row counts as not measured. */
static bk_json *mean_json(const repeat *r, int limb, int value)
{
    double sum = 0, squares = 0;
    int n = 0;
    for (int i = 0; i < r->n; i++)
        if (!r->rows[i].reason[0] && isfinite(r->rows[i].value[limb][value])) {
            sum += r->rows[i].value[limb][value];
            n++;
        }
    const double mean = n ? sum / n : (double)NAN;
    for (int i = 0; i < r->n; i++)
        if (!r->rows[i].reason[0] && isfinite(r->rows[i].value[limb][value]))
            squares += (r->rows[i].value[limb][value] - mean) * (r->rows[i].value[limb][value] - mean);
    bk_json *out = bk_json_object();
    bk_json_put_fixed(out, "mean", mean, decimals[value]);
    bk_json_put_fixed(out, "sd", n > 1 ? sqrt(squares / (n - 1)) : (double)NAN, decimals[value]);
    bk_json_put_integer(out, "n", n);
    return out;
}

static void describe(const repeat *r, bk_json *answer)
{
    bk_json *rows = bk_json_array(), *mean = bk_json_object(), *segments = bk_json_object();
    int measured = 0;
    for (int i = 0; i < r->n; i++) {
        bk_json_push(rows, row_json(r, &r->rows[i]));
        measured += !r->rows[i].reason[0];
    }
    bk_json_put_integer(mean, "n", measured);
    for (int k = 0; k < BK_LIMBS; k++) {
        bk_json *segment = bk_json_object();
        for (int v = 0; v < VALUES; v++)
            bk_json_put(segment, values[v], mean_json(r, k, v));
        bk_json_put(segments, bk_limb_name(k), segment);
    }
    bk_json_put(mean, "segments", segments);
    bk_json_put(answer, "repeats", rows);
    bk_json_put(answer, "repeat_mean", mean);
}

/* An edge is drawn where one frame shows it. Along itself nothing tells how it moves, across it an error of a pixel would be
   an error of the lumen, and with both edges drawn the same drawing would be counted as n measurements. */
static bk_status refuse_edges(const bk_corrections *said, bk_err *err)
{
    return said->edge.n == 0 ? BK_OK
                             : bk_fail(err, BK_E_USAGE, "--repeat was found with a drawn edge, which holds for its own frame only: "
                                                        "one of the two was expected");
}

bk_status bk_app_repeat_allowed(const bk_measure_options *options, bk_err *err)
{
    bk_arena arena;
    bk_corrections said;
    bk_arena_init(&arena, MEMORY_CAP);
    bk_status status = bk_app_corrections_read(&options->corrections, SIDE_MAX, SIDE_MAX, &arena, &said, err);
    if (status == BK_OK)
        status = refuse_edges(&said, err);
    bk_arena_clear(&arena);
    return status;
}

static bk_status run(repeat *r, int n, bk_json *answer, bk_err *err)
{
    bk_status status = bk_dicom_open(r->options->path, &r->file, err);
    if (status != BK_OK)
        return status;
    bk_dicom_describe(r->file, &r->info);
    status = bk_app_corrections_read(&r->options->corrections, r->info.rows, r->info.cols, &r->keep, &r->said, err);
    if (status == BK_OK)
        status = refuse_edges(&r->said, err);
    if (status != BK_OK)
        return status;
    choose_frames(r, n);
    bk_carried_take(answer, rough_scale(r), &r->rows[r->own].carried);
    status = carry(r, -1, err);
    if (status == BK_OK)
        status = carry(r, 1, err);
    take_values(answer, &r->rows[r->own]);
    for (int step = -1; step <= 1; step += 2) /* outwards */
        for (int i = r->own + step; status == BK_OK && i >= 0 && i < r->n; i += step) {
            bk_carried_hide_as(&r->rows[i - step].carried, &r->rows[i].carried);
            if (!r->rows[i].reason[0])
                status = measure_row(r, &r->rows[i], err);
        }
    if (status == BK_OK)
        describe(r, answer);
    return status;
}

bk_status bk_app_repeat(const bk_measure_options *options, int n, bk_json *answer, bk_err *err)
{
    repeat r = {.options = options};
    r.mm_per_px = bk_json_number(bk_json_path(answer, "calibration.mm_per_px"));
    bk_arena_init(&r.keep, MEMORY_CAP);
    const bk_status status = run(&r, n, answer, err);
    bk_dicom_close(r.file);
    bk_arena_clear(&r.keep);
    return status;
}
