/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One page for a second opinion: what speaks for treating, what is open, the limbs, the case among the strata, the rules,
   the first three options. From the answers of indication, protect and strategies alone. */
#ifndef BK_REPORT_SHEET_H
#define BK_REPORT_SHEET_H

#include "report/paper.h"

typedef enum bk_sheet_part { BK_SHEET_READS, BK_SHEET_QUESTIONS, BK_SHEET_LIMBS, BK_SHEET_RULES, BK_SHEET_OPTIONS, BK_SHEET_PARTS } bk_sheet_part;
extern const char *const bk_sheet_heads[BK_SHEET_PARTS];
extern const char *const bk_sheet_note;

/** Row i of a part as two texts; false behind the last. */
bool bk_sheet_row(const bk_report_input *in, bk_sheet_part part, size_t i, char left[BK_CELL], char right[2 * BK_CELL]);

/** The page without its footer. */
void bk_draw_sheet(cairo_t *cr, bk_box box, const bk_report_input *in);

#endif
