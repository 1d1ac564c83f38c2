/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dicom/source.h"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

namespace bk
{

namespace
{

bk_status read_fully(int fd, uint64_t at, unsigned char *out, size_t n, bk_err *err)
{
    while (n > 0) {
        const ssize_t got = pread(fd, out, n, static_cast<off_t>(at));
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return bk_fail(err, BK_E_IO, "the file cannot be read: %s", strerror(errno));
        if (got == 0)
            return bk_fail(err, BK_E_IO, "the file became shorter while it was read");
        out += got;
        at += static_cast<uint64_t>(got);
        n -= static_cast<size_t>(got);
    }
    return BK_OK;
}

} // namespace

Source::~Source()
{
    if (fd_ >= 0)
        close(fd_);
}

bk_status Source::adopt(int fd, bk_err *err)
{
    if (fd_ >= 0)
        close(fd_);
    fd_ = fd;
    window_n_ = 0;
    struct stat info;
    if (fstat(fd_, &info) != 0)
        return bk_fail(err, BK_E_IO, "the file cannot be examined: %s", strerror(errno));
    if (S_ISDIR(info.st_mode))
        return bk_fail(err, BK_E_DATA, "a folder was found, a DICOM file was expected");
    if (!S_ISREG(info.st_mode))
        return bk_fail(err, BK_E_DATA, "a device or pipe was found, a DICOM file was expected");
    size_ = static_cast<uint64_t>(info.st_size);
    return BK_OK;
}

bk_status Source::open(const char *path, bk_err *err)
{
    /* not blocking: opening a pipe nobody writes to would wait forever */
    const int fd = ::open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    if (fd < 0)
        return bk_fail(err, BK_E_IO, "%s cannot be read: %s", path, strerror(errno));
    const bk_status status = adopt(fd, err);
    if (status == BK_OK && size_ == 0)
        return bk_fail(err, BK_E_DATA, "an empty file was found, a DICOM file was expected");
    return status;
}

bk_status Source::fill_window(uint64_t at, bk_err *err) const
{
    window_n_ = 0;
    const size_t n = static_cast<size_t>(std::min<uint64_t>(window_room, size_ - at));
    const bk_status status = read_fully(fd_, at, window_, n, err);
    if (status == BK_OK) {
        window_at_ = at;
        window_n_ = n;
    }
    return status;
}

bk_status Source::read(uint64_t at, void *out, size_t n, bk_err *err) const
{
    if (at > size_ || n > size_ - at)
        return bk_fail(err, BK_E_DATA, "the file ends at byte %llu, %zu bytes at %llu were expected",
                       static_cast<unsigned long long>(size_), n, static_cast<unsigned long long>(at));
    if (n > window_room)
        return read_fully(fd_, at, static_cast<unsigned char *>(out), n, err);
    if (at < window_at_ || at + n > window_at_ + window_n_) {
        const bk_status status = fill_window(at, err);
        if (status != BK_OK)
            return status;
    }
    if (n > 0)
        memcpy(out, window_ + (at - window_at_), n);
    return BK_OK;
}

} // namespace bk
