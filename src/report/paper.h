/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Rows of text that paper and page share, so that both say the same. */
#ifndef BK_REPORT_PAPER_H
#define BK_REPORT_PAPER_H

#include "report/canvas.h"

#define BK_CELL 200
#define BK_LIMB_COLUMNS 7
/** Heads of the table of limbs, and the cell (limb, column). */
extern const char *const bk_limb_heads[BK_LIMB_COLUMNS];
char *bk_limb_cell(char out[BK_CELL], const bk_json *measurement, int limb, int column);

#define BK_DEVICE_COLUMNS 4
extern const char *const bk_device_heads[BK_DEVICE_COLUMNS];
/** Cell of item i of a devices answer. */
char *bk_device_cell(char out[BK_CELL], const bk_json *devices, size_t i, int column);

/** "67-year-old man · left circumflex / obtuse marginal · case demo · revision 3" */
char *bk_case_line(char out[BK_CELL], const bk_json *case_doc);
/** Scale in use, its SD, the routes, and that it is one view. */
char *bk_scale_line(char out[BK_CELL], const bk_json *measurement);
/** Medina class with what it could also be, the core, the angles. */
char *bk_medina_line(char out[BK_CELL], const bk_json *measurement);
char *bk_core_line(char out[BK_CELL], const bk_json *measurement);
/** File hash, frame, fit mode. */
char *bk_origin_line(char out[BK_CELL], const bk_json *measurement);
/** Source i of a devices answer: text, source, doi, standing. */
char *bk_source_line(char *out, size_t room, const bk_json *devices, size_t i);
/** Why an item of the follow-up sheet, with its standing; the verdict of a definition in words. */
char *bk_sheet_why(char out[BK_CELL], const bk_json *item);
char *bk_sheet_verdict(char out[BK_CELL], const bk_json *definition);
/** "met: 5.6 % (line 30)" of a check of the result; a success verdict with its standing. */
char *bk_result_found(char out[BK_CELL], const bk_json *check);
char *bk_success_words(char out[BK_CELL], const bk_json *success);
/** True for the bundled invented case. */
bool bk_is_demo(const bk_json *case_doc);
#define BK_DEMO_WORDS "INVENTED DEMONSTRATION CASE \u00b7 no patient"

#endif
