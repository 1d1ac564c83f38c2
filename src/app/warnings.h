/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Doubts in an answer: a list of {code, message}. */
#ifndef BK_APP_WARNINGS_H
#define BK_APP_WARNINGS_H

#include "base/json.h"
#include "dicom/dicom.h"

void bk_warnings_add(bk_json *list, const char *code, const char *message);

/** All that reading the file left to say. */
void bk_warnings_of_file(bk_json *list, const bk_dicom_info *info);

#endif
