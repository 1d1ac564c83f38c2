/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Corrections of a measurement as they come in: options of the command line, or a JSON file of the same shape as the
   result's `corrections`. docs/methods/corrections.md */
#ifndef BK_APP_CORRECTIONS_H
#define BK_APP_CORRECTIONS_H

#include "base/arena.h"
#include "base/json.h"
#include "base/status.h"

enum { BK_SAY_VIA, BK_SAY_EDGE, BK_SAY_EXCLUDE, BK_SAY_REFERENCE, BK_SAY_SWAP, BK_SAYS };
#define BK_SAY_MAX 64 /* how often each may be given */

/* As typed: "LIMB:X,Y" and so on. */
typedef struct bk_correction_texts {
    const char *text[BK_SAYS][BK_SAY_MAX];
    int n[BK_SAYS];
    const char *path; /* of a JSON file; NULL: none */
} bk_correction_texts;

/** Names of the options, which are the keys of the JSON shape. */
extern const char *const bk_correction_names[BK_SAYS];

struct bk_corrections;

/**
 * Read and check both; what the file says comes first. rows, cols: of the frame.
 * Errors: BK_E_USAGE a text, BK_E_DATA the file; as bk_json_read_file.
 */
bk_status bk_app_corrections_read(const bk_correction_texts *texts, int rows, int cols, bk_arena *arena,
                                  struct bk_corrections *out, bk_err *err) BK_MUST_CHECK;

/** In the shape that is read. */
bk_json *bk_app_corrections_json(const struct bk_corrections *corrections);

#endif
