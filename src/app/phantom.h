/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A digital angiogram on disk: the phantom's frames as DICOM files and its truth as JSON. */
#ifndef BK_APP_PHANTOM_H
#define BK_APP_PHANTOM_H

#include "base/json.h"
#include "phantom/phantom.h"

/**
 * Write DIR/view1.dcm, with two views DIR/view2.dcm, and last DIR/truth.json; DIR is made when absent.
 *
 * site: an anatomy.site word of the case document, kept in the truth; NULL leaves it out.
 * *answer: {schema "branchkeep.phantom/1", engine, seed, medina, site, files[]}, owned by the caller.
 * Errors: those of bk_phantom_new and bk_dicom_write; BK_E_IO the folder cannot be made.
 */
bk_status bk_app_phantom(const bk_phantom_options *options, const char *site, const char *dir,
                         bk_json **answer, bk_err *err) BK_MUST_CHECK;

#endif
