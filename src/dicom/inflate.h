/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_DICOM_INFLATE_H
#define BK_DICOM_INFLATE_H

#include "dicom/source.h"

namespace bk
{

/**
 * Grow a deflated data set (PS3.5 A.5: a raw RFC 1951 stream) that begins at byte `begin` into an unnamed
 * temporary file, which replaces the source. A stream that ends early gives what it held, as a cut file does.
 * Memory: two small buffers. At most BK_DICOM_INFLATED_MAX bytes are ever written.
 * Errors: BK_E_LIMIT it would grow beyond that; BK_E_DATA not a deflate stream; BK_E_IO no room for the file.
 */
bk_status inflate_into(const Source &from, uint64_t begin, uint64_t cap_bytes, Source *out, bk_err *err);

} // namespace bk
#endif
