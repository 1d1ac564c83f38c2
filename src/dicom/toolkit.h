/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Once-only set-up of the toolkit, and the transfer syntaxes we read. */
#ifndef BK_DICOM_TOOLKIT_H
#define BK_DICOM_TOOLKIT_H

#include "dcmtk/config/osconfig.h" /* must be the first of the toolkit */

#include "dcmtk/dcmdata/dcxfer.h"

#include "base/status.h"
#include "dicom/walk.h"

namespace bk
{

/**
 * Silence the logger, check the tag dictionary, register the decoders. Does its work once.
 * Errors: BK_E_INTERNAL the dictionary file is missing: without it values would be read as the wrong type.
 */
bk_status start_toolkit(bk_err *err);

enum class Codec { native, rle, jpeg, jpeg_ls, jpeg_2000 };

struct Syntax {
    const char *uid;
    Codec codec;
    E_TransferSyntax toolkit; /* which decoder of the toolkit's; unused for native, RLE and JPEG 2000 */
    Encoding encoding;
    bool deflated;
    bool always_lossy; /* JPEG with a cosine transform */
    bool may_be_lossy;
};

/** NULL when we do not read it. */
const Syntax *find_syntax(const char *uid);

/** Watches what a decoder complains about while it lives; for one frame on one thread. */
class DamageWatch
{
  public:
    DamageWatch();
    ~DamageWatch();
    DamageWatch(const DamageWatch &) = delete;
    DamageWatch &operator=(const DamageWatch &) = delete;
    bool damaged() const;
};

} // namespace bk
#endif
