/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A tight throat lets a fit go astray: once its thin lumen is looked for a little beside where it lies, its diameter
   falls to nothing and its derivative with it. So where a limb seems to close, the lumen is looked for
   afresh: what the pixels absorb beyond the background, in a band either side of the axis; the brightest continuous
   way through it; and the diameter that holds the absorption found there. */
#include <math.h>
#include <string.h>

#include "base/order.h"
#include "core/image/lumen_internal.h"

#define LOST_MM 0.45    /* a diameter that may be one of a fit gone astray */
#define THIN_MM 1.1
#define THIN_SHARE 0.6  /* of the limb's median diameter */
#define BIN_MM 0.2      /* across */
#define SLOPE_SD 0.6    /* sideways per length, from cell to cell */
#define JOIN_SD_MM 0.3  /* at the throat's ends, against the fitted centre beside it */
#define LEAST_MM 0.4
#define NOWHERE (-20.0) /* a spline value that bk_lumen_bent turns into no diameter, in bend_px */

enum { BINS = 21, MIDDLE = BINS / 2 }; /* 2 mm either side */

typedef struct throat {
    size_t first, last; /* cells */
    double bin_px;
    double *seen, *weight; /* cells x BINS: absorption times its inverse variance, and that */
} throat;

static double diameter_at(const bk_lumen_state *state, size_t limb, size_t cell)
{
    const bk_lumen_layout *const l = &state->layout[limb];
    double slope;
    const double s = l->start_px + ((double)cell + 0.5) * l->cell_px;
    return bk_lumen_bent(bk_lumen_spline_at(l, state->unknown[limb], l->diameter, l->diameter_n, 1, s), state->bend_px,
                         &slope);
}

/* The thinnest cell and its thin neighbours; false when no lumen can be lost there. */
static bool find_throat(const bk_lumen_state *state, size_t limb, double mm_per_px, double *work, throat *out)
{
    const size_t cells = state->layout[limb].cells;
    size_t thinnest = 1;
    for (size_t c = 1; c + 1 < cells; c++) {
        work[c] = diameter_at(state, limb, c);
        thinnest = work[c] < work[thinnest] ? c : thinnest;
    }
    memcpy(work + cells, work + 1, (cells - 2) * sizeof *work);
    const double limit = fmin(THIN_MM / mm_per_px, THIN_SHARE * bk_median(work + cells, cells - 2));
    if (work[thinnest] >= fmin(limit, LOST_MM / mm_per_px))
        return false;
    out->first = out->last = thinnest;
    while (out->first > 1 && work[out->first - 1] < limit)
        out->first--;
    while (out->last + 2 < cells && work[out->last + 1] < limit)
        out->last++;
    out->bin_px = BIN_MM / mm_per_px;
    return true;
}

/* Share of the beam that the pixels of the throat's cells miss, gathered in bins across. The rests are those of a
   model without a lumen there: value = e + rest sqrt(e), background = e - scatter. */
static void gather(const bk_lumen_state *state, bk_lumen_pixels *px, const throat *t)
{
    memset(t->seen, 0, (t->last - t->first + 1) * BINS * sizeof *t->seen);
    memset(t->weight, 0, (t->last - t->first + 1) * BINS * sizeof *t->weight);
    for (size_t cell = t->first; cell <= t->last; cell++)
        for (size_t k = px->cell_start[cell - 1]; k < px->cell_start[cell]; k++) {
            const double bin = (double)px->x[k] / t->bin_px + MIDDLE + 0.5;
            if (px->at[k] < 0 || bin < 0.0 || bin >= (double)BINS)
                continue;
            px->robust[k] = 1.0F; /* what was taken for a stranger may be the lumen */
            const double r = (double)px->rest[k], root = 0.5 * (sqrt(r * r + 4.0 * (double)px->value[k]) - r);
            const double ground = fmax(root * root - state->scatter * (double)px->scatter[k], 0.05 * root * root);
            const double weight = ground * ground / (root * root * state->gain);
            const size_t at = (cell - t->first) * BINS + (size_t)bin;
            t->seen[at] += weight * (-r * root / ground);
            t->weight[at] += weight;
        }
}

/* What a lumen three bins wide would explain of a cell, half the squared SDs; nothing where it would have to be bright. */
static double reward(const throat *t, size_t row, size_t bin)
{
    double seen = 0.0, weight = 0.0;
    for (size_t b = bin > 0 ? bin - 1 : 0; b <= bin + 1 && b < BINS; b++) {
        seen += t->seen[row * BINS + b];
        weight += t->weight[row * BINS + b];
    }
    return weight > 0.0 && seen > 0.0 ? 0.5 * seen * seen / weight : 0.0;
}

static double squared(double a)
{
    return a * a;
}

/* Best way through the throat: the bin of each row. score and from: rows x BINS. enter, leave: bins at its ends. */
static void find_way(const throat *t, double cell_px, double enter, double leave, double *score, unsigned char *from,
                     unsigned char *way)
{
    const size_t rows = t->last - t->first + 1;
    const double sideways = t->bin_px / (SLOPE_SD * cell_px), join = BIN_MM / JOIN_SD_MM;
    for (size_t row = 0; row < rows; row++)
        for (size_t b = 0; b < BINS; b++) {
            double best = row == 0 ? -0.5 * squared(join * ((double)b - enter)) : -1e30;
            for (size_t a = 0; row > 0 && a < BINS; a++) {
                const double sum = score[(row - 1) * BINS + a] - 0.5 * squared(sideways * ((double)a - (double)b));
                if (sum > best) {
                    best = sum;
                    from[row * BINS + b] = (unsigned char)a;
                }
            }
            score[row * BINS + b] = best + reward(t, row, b);
        }
    double *const last = score + (rows - 1) * BINS;
    size_t end = 0;
    for (size_t b = 0; b < BINS; b++) {
        last[b] -= 0.5 * squared(join * ((double)b - leave));
        end = last[b] > last[end] ? b : end;
    }
    for (size_t row = rows; row-- > 0; end = from[row * BINS + end])
        way[row] = (unsigned char)end;
}

/* Diameter that absorbs what is seen within three bins of the way, over three cells: a thin lumen of density m absorbs
   m pi D^2 / 4 across. */
static double diameter_of(const throat *t, const unsigned char *way, size_t row, double density_per_px)
{
    double area = 0.0, count = 0.0;
    const size_t rows = t->last - t->first + 1;
    for (size_t r = row > 0 ? row - 1 : 0; r <= row + 1 && r < rows; r++) {
        count += 1.0;
        for (size_t b = way[r] > 3 ? way[r] - 3U : 0; b <= way[r] + 3U && b < BINS; b++)
            if (t->weight[r * BINS + b] > 0.0)
                area += t->bin_px * t->seen[r * BINS + b] / t->weight[r * BINS + b];
    }
    return sqrt(fmax(area / count, 0.0) * 4.0 / (3.14159265358979323846 * density_per_px));
}

/* Put the way and its diameters into the splines, whose coefficient k is centred on the left end of cell k - 1. */
static void put(bk_lumen_state *state, size_t limb, const throat *t, const unsigned char *way, double mm_per_px)
{
    const bk_lumen_layout *const l = &state->layout[limb];
    const double density = exp(state->density[limb][0]);
    for (size_t row = 0; row <= t->last - t->first; row++) {
        const size_t k = t->first + row + 1;
        const double d = diameter_of(t, way, row, density);
        state->unknown[limb][l->diameter[k]] = fmin(fmax(d, LEAST_MM / mm_per_px), THIN_MM / mm_per_px);
        state->unknown[limb][l->centre[k]] = ((double)way[row] - MIDDLE) * t->bin_px;
    }
}

/* Rests of a model whose lumen ends before the throat and begins again behind it. */
static void rest_without(bk_lumen_state *state, size_t limb, bk_lumen_pixels *px, const throat *t, double *kept)
{
    const bk_lumen_layout *const l = &state->layout[limb];
    double *const u = state->unknown[limb];
    for (size_t k = 0; k < l->diameter_n; k++)
        kept[k] = u[l->diameter[k]];
    for (size_t k = t->first; k <= t->last + 2; k++)
        u[l->diameter[k]] = NOWHERE * state->bend_px;
    (void)bk_lumen_limb_rest(state, limb, px, NULL);
    for (size_t k = 0; k < l->diameter_n; k++)
        u[l->diameter[k]] = kept[k];
}

bk_status bk_lumen_throat_look(bk_lumen_state *state, size_t limb, bk_lumen_pixels *px, double mm_per_px, bk_arena *arena,
                               bool *found, bk_err *err)
{
    const bk_lumen_layout *const l = &state->layout[limb];
    const size_t room = l->cells * BINS;
    const bk_arena_mark mark = bk_arena_take_mark(arena);
    double *const work = BK_NEW(arena, 3 * room + l->diameter_n, double, err);
    unsigned char *const from = BK_NEW(arena, room + l->cells, unsigned char, err);
    if (work == NULL || from == NULL)
        return BK_E_LIMIT;
    throat t = {.seen = work, .weight = work + room};
    *found = find_throat(state, limb, mm_per_px, work, &t);
    if (*found) {
        double bin[2];
        rest_without(state, limb, px, &t, work + 3 * room);
        gather(state, px, &t);
        const double ends[2] = {l->start_px + ((double)t.first - 0.5) * l->cell_px,
                                l->start_px + ((double)t.last + 1.5) * l->cell_px};
        for (size_t i = 0; i < 2; i++)
            bin[i] = MIDDLE + bk_lumen_spline_at(l, state->unknown[limb], l->centre, l->centre_n, BK_LUMEN_CENTRE_CELLS,
                                                 ends[i]) / t.bin_px;
        find_way(&t, l->cell_px, bin[0], bin[1], work + 2 * room, from, from + room);
        put(state, limb, &t, from + room, mm_per_px);
    }
    bk_arena_rewind(arena, mark);
    return BK_OK;
}
