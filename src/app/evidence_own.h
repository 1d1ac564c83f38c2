/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A user's own evidence tables: a folder of CSV files with the columns of evidence/README.md. */
#ifndef BK_APP_EVIDENCE_OWN_H
#define BK_APP_EVIDENCE_OWN_H

#include "base/status.h"

#define BK_EVIDENCE_FOLDER "BRANCHKEEP_EVIDENCE" /* environment variable with the folder */

/**
 * Read every *.csv of a folder, in the order of their names, and use its rows from now on: a row with the id of one
 * built in takes its place, any other is added. To be called once, before any answer and any thread.
 *
 * All or nothing. Errors, each with file:line and reason: BK_E_DATA a row that evidence/README.md does not allow, an id
 * given twice, a row that takes the place of one whose numbers the program relies on without having them or with
 * another unit, a folder without tables; BK_E_IO; BK_E_LIMIT.
 */
bk_status bk_app_evidence_own(const char *folder, bk_err *err) BK_MUST_CHECK;

#endif
