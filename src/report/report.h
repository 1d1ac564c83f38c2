/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Paper and pictures of a measured bifurcation, drawn from the JSON documents of docs/contract.md alone: nothing
   is measured, fitted or sized here, so the report of a stored case needs no recomputation. What a document does
   not say is printed as "cannot say"; no value is invented. Text from documents is cleaned and escaped.

   Same input, same bytes: no clock, no locale, no random numbers; the metadata date is an argument.
   Threads: pure (cairo's font cache locks itself). */
#ifndef BK_REPORT_REPORT_H
#define BK_REPORT_REPORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/json.h"
#include "base/status.h"

/* The frame that was measured. Row-major stored values, top-left first; pixel (0,0) is the centre of the first. */
typedef struct bk_report_picture {
    const uint16_t *px;
    int32_t rows, cols;
    double low, high; /* stored values shown black and white (swapped when inverted); low < high */
    bool inverted;    /* MONOCHROME1: a high value is dark */
} bk_report_picture;

/**
 * Set low and high so that 0.5 % of the pixels are black and 0.5 % white; a flat picture gets a window of 1.
 * common practice, no source: display only, nothing is measured on it.
 */
void bk_report_window(bk_report_picture *picture);

/* What a report is made of. Documents are borrowed and only read; any of them may be NULL. */
typedef struct bk_report_input {
    const bk_json *case_doc;          /* branchkeep.case/1 */
    const bk_json *measurement;       /* branchkeep.measurement/1: the one to be shown */
    const bk_json *devices;           /* branchkeep.answer/1, topic devices; NULL: sizes were not computed */
    const bk_json *indication, *protect, *strategies; /* answers of these topics, for the case sheet; NULL: no sheet */
    const bk_json *injury;            /* branchkeep.answer/1, topic injury: the follow-up sheet; NULL: none is printed */
    const bk_report_picture *picture; /* NULL: the report says that pixels were not given */
    const char *engine;               /* the program that prints: "branchkeep 0.1.0" */
    const char *caution;              /* the standing caution at the foot of every page */
    const bk_json *flow;              /* branchkeep.answer/1, topic flow; NULL: no pull-back is drawn */
    const bk_json *result;            /* branchkeep.answer/1, topic result; NULL: not printed */
    const bk_json *pause;             /* branchkeep.answer/1, topic pause; NULL: not printed */
    const char *date;                 /* "YYYY-MM-DDThh:mm:ssZ" for the metadata; NULL or odd: 2000-01-01 */
} bk_report_input;

/* Bytes on the heap; bytes[n] is 0. Freed with free(). */
typedef struct bk_report_bytes {
    char *bytes;
    size_t n;
} bk_report_bytes;

/**
 * The report as a PDF of A4 pages: page 1 is the whole answer, page 2 the curves and what it rests on, then the follow-up
 * sheet and the pause with the result where there are any, and last the case sheet for a second opinion. Without a measurement the sheets stand alone.
 * Errors: BK_E_LIMIT when the documents need more memory than BK_REPORT_BYTES_MAX; BK_E_INTERNAL from the drawing
 * library (its reason is named) or out of memory. *out is empty then.
 */
bk_status bk_report_pdf(const bk_report_input *input, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

/** The same as one self-contained page of HTML without scripts: drawings inline as SVG, the picture as PNG in it. */
bk_status bk_report_html(const bk_report_input *input, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

/**
 * The frame with the measured axes, edges, ticks and labels, and a loupe beside it, as a PNG file.
 * Frames of at most 512 pixels a side are drawn at twice their size. Written all or nothing.
 * Errors: BK_E_USAGE an empty picture; BK_E_IO; BK_E_LIMIT; BK_E_INTERNAL.
 */
bk_status bk_report_overlay_png(const char *path, const bk_report_picture *picture, const bk_json *measurement,
                                bk_err *err) BK_MUST_CHECK;

/**
 * A bifurcation in space (branchkeep.solid/1) as seen from a C-arm position, with the numbers of its limbs, as an SVG file.
 * Errors: BK_E_INTERNAL from the drawing library. *out is empty then.
 */
bk_status bk_solid_svg(const bk_json *solid, double primary_deg, double secondary_deg, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

/**
 * branchkeep.views/1 as an SVG file: by purpose the map with the reach and the views found, and the bifurcation as the best of
 * them shows it (solid; NULL: not drawn). Of one view: where the second may be taken from. Errors: as bk_solid_svg.
 */
bk_status bk_views_svg(const bk_json *views, const bk_json *solid, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

/** The case among the published strata (answer of topic protect) as an SVG file. Errors: as bk_solid_svg. */
bk_status bk_strata_svg(const bk_json *protect, bk_report_bytes *out, bk_err *err) BK_MUST_CHECK;

#define BK_REPORT_BYTES_MAX ((size_t)128 * 1024 * 1024)

#endif
