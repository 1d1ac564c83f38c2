/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The bundled invented case through the whole job, and the self-test of an installation. */
#ifndef BK_APP_DEMO_H
#define BK_APP_DEMO_H

#include <stdio.h>

#include "base/status.h"

/**
 * Draw the invented angiogram, measure it, make the case, size devices and write report.pdf and report.html into dir
 * (made when absent; its files of an earlier run are replaced). Prints the answer on one page to out.
 */
bk_status bk_app_demo(const char *dir, FILE *out, bk_err *err) BK_MUST_CHECK;

/**
 * The same case in a temporary folder, held against its truth: minimal diameters within 0.15 mm, stenoses within 6
 * points, Medina the same. Prints one line a check. Errors: BK_E_NOTHING when a check fails.
 */
bk_status bk_app_selftest(FILE *out, bk_err *err) BK_MUST_CHECK;

#endif
