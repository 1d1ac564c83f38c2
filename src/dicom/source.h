/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Bytes read by position: the file itself, or what a deflated data set grew to. Nothing is held but one small
   window, so that walking a header element by element is not one system call each. */
#ifndef BK_DICOM_SOURCE_H
#define BK_DICOM_SOURCE_H

#include <cstddef>
#include <cstdint>

#include "base/status.h"

namespace bk
{

class Source
{
  public:
    Source() = default;
    ~Source();
    Source(const Source &) = delete;
    Source &operator=(const Source &) = delete;

    /** Errors: BK_E_IO no such file or not readable; BK_E_DATA a folder, a device, or an empty file. */
    bk_status open(const char *path, bk_err *err);
    /** Read from fd from now on, and close it at the end. */
    bk_status adopt(int fd, bk_err *err);

    uint64_t size() const
    {
        return size_;
    }
    /** n bytes from position at. Errors: BK_E_DATA they end before; BK_E_IO the system refused. */
    bk_status read(uint64_t at, void *out, size_t n, bk_err *err) const;

  private:
    bk_status fill_window(uint64_t at, bk_err *err) const;

    static constexpr size_t window_room = 16 * 1024;
    int fd_ = -1;
    uint64_t size_ = 0;
    mutable uint64_t window_at_ = 0;
    mutable size_t window_n_ = 0;
    mutable unsigned char window_[window_room];
};

/** Little- or big-endian whole numbers from raw bytes. */
inline uint16_t get_u16(const unsigned char *p, bool big_endian)
{
    return big_endian ? static_cast<uint16_t>(p[0] << 8 | p[1]) : static_cast<uint16_t>(p[1] << 8 | p[0]);
}
inline uint32_t get_u32(const unsigned char *p, bool big_endian)
{
    const uint32_t a = get_u16(p, big_endian), b = get_u16(p + 2, big_endian);
    return big_endian ? a << 16 | b : b << 16 | a;
}

} // namespace bk
#endif
