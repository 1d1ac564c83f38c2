/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Use case: where to stand with the C-arm, from a bifurcation in space; or, from one view, where the second one may be
   taken from and what going without it costs. */
#ifndef BK_APP_VIEWS_H
#define BK_APP_VIEWS_H

#include <stdbool.h>

#include "base/json.h"

#define BK_APP_VIEWS_TOP 2     /* best and next-best */
#define BK_APP_VIEWS_TOP_MAX 8

typedef struct bk_app_views_options {
    int top;                                 /* best views for each purpose; 0: BK_APP_VIEWS_TOP */
    bool primary_entered, secondary_entered; /* else the reach of evidence/views.csv */
    double primary_deg[2], secondary_deg[2];
    const char *svg;                         /* write maps and drawings there (bk_views_svg); NULL: none */
} bk_app_views_options;

/**
 * branchkeep.views/1 from a branchkeep.solid/1 or branchkeep.measurement/1 document; *out is the caller's.
 * Errors: BK_E_DATA another schema, or as bk_app_solid_read and bk_views_search; BK_E_USAGE limits; BK_E_IO the picture.
 */
bk_status bk_app_views(const bk_json *document, const bk_app_views_options *options, bk_json **out, bk_err *err) BK_MUST_CHECK;

#endif
