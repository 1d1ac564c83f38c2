/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A measurement needs the vessel and its surroundings, not the whole frame: cut the window out, measure there, and
   put the result back into the frame. */
#include "core/anatomy/window.h"

#include <math.h>
#include <string.h>

#include "core/anatomy/corrections.h"

static int32_t clamp_index(double v, int32_t n)
{
    return v < 0 ? 0 : v > n - 1 ? n - 1 : (int32_t)v;
}

/* Around the clicks and way-points, with room for a path that bulges and for the background beside the lumen. */
static void choose(const bk_measure_input *whole, bk_window *out, int32_t *rows, int32_t *cols)
{
    double left = INFINITY, right = -INFINITY, top = INFINITY, bottom = -INFINITY;
    bk_pt_px place[BK_LIMBS * (BK_VIA_MAX + 1)];
    size_t n = 0;
    for (int i = 0; i < BK_LIMBS; i++) {
        place[n++] = whole->click[i];
        n += bk_corrections_via(whole->corrections, i, place + n, BK_VIA_MAX);
    }
    for (size_t i = 0; i < n; i++) {
        left = fmin(left, place[i].x);
        right = fmax(right, place[i].x);
        top = fmin(top, place[i].y);
        bottom = fmax(bottom, place[i].y);
    }
    const double margin = 30 + 0.25 * fmax(right - left, bottom - top) + 5 / whole->mm_per_px;
    out->row0 = clamp_index(top - margin, whole->intensity->rows);
    out->col0 = clamp_index(left - margin, whole->intensity->cols);
    *rows = clamp_index(bottom + margin, whole->intensity->rows) - out->row0 + 1;
    *cols = clamp_index(right + margin, whole->intensity->cols) - out->col0 + 1;
}

static bk_status cut_mask(const bk_measure_input *whole, bk_window *out, bk_arena *arena, bk_err *err)
{
    if (!whole->mask)
        return BK_OK;
    const size_t rows = (size_t)out->input.intensity->rows, cols = (size_t)out->input.intensity->cols;
    unsigned char *mask = BK_NEW(arena, rows * cols, unsigned char, err);
    if (!mask)
        return err ? err->status : BK_E_LIMIT;
    for (size_t r = 0; r < rows; r++)
        memcpy(mask + r * cols,
               whole->mask + ((size_t)out->row0 + r) * (size_t)whole->intensity->cols + (size_t)out->col0, cols);
    out->input.mask = mask;
    return BK_OK;
}

static void shift(bk_pt_px *p, const bk_window *window)
{
    p->x += window->col0;
    p->y += window->row0;
}

static void put_back(const bk_window *window, bk_bifurcation *b)
{
    shift(&b->branch_point, window);
    shift(&b->carina, window);
    shift(&b->core_centre, window);
    for (int i = 0; i < BK_LIMBS; i++)
        for (size_t k = 0; k < b->segment[i].n; k++) {
            shift(&b->segment[i].axis[k], window);
            shift(&b->segment[i].left[k], window);
            shift(&b->segment[i].right[k], window);
        }
}

static bk_status check_input(const bk_measure_input *input, bk_err *err)
{
    for (int i = 0; i < BK_LIMBS; i++) {
        const bk_pt_px c = input->click[i];
        if (!(c.x >= 0 && c.y >= 0 && c.x <= input->intensity->cols - 1 && c.y <= input->intensity->rows - 1))
            return bk_fail(err, BK_E_USAGE, "the %s click lies at %.1f,%.1f, inside 0..%d,0..%d was expected",
                           bk_limb_name(i), c.x, c.y, input->intensity->cols - 1, input->intensity->rows - 1);
    }
    return BK_OK;
}

bk_status bk_bifurcation_measure(const bk_measure_input *input, bk_arena *arena, bk_bifurcation *out, bk_err *err)
{
    memset(out, 0, sizeof *out);
    bk_status status = check_input(input, err);
    if (status != BK_OK)
        return status;
    bk_window window = {.input = *input, .whole = input->intensity, .whole_mask = input->mask};
    bk_image part;
    int32_t rows, cols;
    choose(input, &window, &rows, &cols);
    status = bk_image_crop(input->intensity, window.row0, window.col0, rows, cols, arena, &part, err);
    window.input.intensity = &part;
    if (status == BK_OK)
        status = cut_mask(input, &window, arena, err);
    for (int i = 0; i < BK_LIMBS; i++) {
        window.input.click[i].x -= window.col0;
        window.input.click[i].y -= window.row0;
    }
    bk_corrections moved;
    bk_course course;
    if (input->course) {
        course = bk_course_moved(input->course, -window.col0, -window.row0);
        window.input.course = &course;
    }
    if (status == BK_OK && input->corrections) {
        status = bk_corrections_move(input->corrections, -window.col0, -window.row0, arena, &moved, err);
        window.input.corrections = &moved;
    }
    if (status == BK_OK)
        status = bk_window_measure(&window, arena, out, err);
    if (status == BK_OK)
        put_back(&window, out);
    return status;
}
