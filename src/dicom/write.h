/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Parts of writing. */
#ifndef BK_DICOM_WRITE_H
#define BK_DICOM_WRITE_H

#include "dicom/dicom.h"
#include "dicom/toolkit.h"

class DcmItem;

namespace bk
{

/** Put every attribute but the pixel data. lossy_ratio is the one reached, NaN for uncompressed.
    Errors: BK_E_USAGE a text that is no date, or too long; BK_E_INTERNAL. */
bk_status fill_header(const bk_dicom_out &what, double lossy_ratio, DcmItem *dataset, bk_err *err);

} // namespace bk
#endif
