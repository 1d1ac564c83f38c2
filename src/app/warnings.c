/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "app/warnings.h"

void bk_warnings_add(bk_json *list, const char *code, const char *message)
{
    bk_json *warning = bk_json_object();
    bk_json_put_text(warning, "code", code);
    bk_json_put_text(warning, "message", message);
    bk_json_push(list, warning);
}

void bk_warnings_of_file(bk_json *list, const bk_dicom_info *info)
{
    for (size_t i = 0; i < info->warnings_n; i++)
        bk_warnings_add(list, info->warnings[i].code, info->warnings[i].message);
}
