/* SPDX-License-Identifier: GPL-3.0-or-later */
#ifndef BK_DICOM_GUARD_H
#define BK_DICOM_GUARD_H

#include <exception>
#include <new>

#include "base/status.h"

namespace bk
{

/** Run a step; an exception becomes BK_E_INTERNAL, for one that reached C code would end the program. */
template <typename Step> bk_status guarded(bk_err *err, Step step) noexcept
{
    try {
        return step();
    } catch (const std::bad_alloc &) {
        return bk_fail(err, BK_E_INTERNAL, "out of memory in the DICOM reader");
    } catch (const std::exception &fault) {
        return bk_fail(err, BK_E_INTERNAL, "a fault in the DICOM reader: %s", fault.what());
    } catch (...) {
        return bk_fail(err, BK_E_INTERNAL, "a fault in the DICOM reader");
    }
}

} // namespace bk
#endif
