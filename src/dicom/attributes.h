/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Values of one data set or item, read forgivingly and never guessed: what is absent is NaN, "" or the fallback;
   what is there but malformed is the same, with a warning that names the attribute. */
#ifndef BK_DICOM_ATTRIBUTES_H
#define BK_DICOM_ATTRIBUTES_H

#include "dcmtk/config/osconfig.h" /* must be the first of the toolkit */

#include <string>
#include <vector>

#include "dcmtk/dcmdata/dcdeftag.h"
#include "dcmtk/dcmdata/dcitem.h"

#include "dicom/dicom.h"

namespace bk
{

class Attributes
{
  public:
    /** item may be NULL: everything is absent then. */
    Attributes(DcmItem *item, bk_dicom_info *info) : item_(item), info_(info)
    {
    }

    bool has(const DcmTagKey &tag) const; /* with a value */
    /** The whole text without padding, values separated by '\'. */
    std::string text(const DcmTagKey &tag) const;
    std::string text(const DcmTagKey &tag, size_t index) const;
    /** Every value of a number, text or binary; NaN for a malformed one, with a warning. */
    std::vector<double> reals(const DcmTagKey &tag) const;
    /** The first value; NaN when absent. */
    double real(const DcmTagKey &tag) const;
    /** As real, but a value that is not above zero is as good as absent: warns. */
    double positive(const DcmTagKey &tag) const;
    /** The value when it is a whole number, else the fallback (with a warning when it is not). */
    long integer(const DcmTagKey &tag, long fallback) const;
    /** The first item of a sequence. */
    Attributes inside(const DcmTagKey &sequence) const;
    /** Functional group of an enhanced object (PS3.3 C.7.6.16): the shared one, else that of frame 1. */
    Attributes group(const DcmTagKey &sequence) const;
    /** That of one frame (from 0, or -1 for the last); nothing when it is shared. */
    Attributes frame_group(const DcmTagKey &sequence, long frame) const;

    DcmItem *item() const
    {
        return item_;
    }

  private:
    DcmItem *item_;
    bk_dicom_info *info_;
};

/** The first of two that is a number. */
inline double first_known(double a, double b)
{
    return a == a ? a : b;
}

/** Blanks and zero bytes gone from both ends. */
std::string trimmed(const std::string &text);
std::vector<std::string> split_values(const std::string &text);

} // namespace bk
#endif
