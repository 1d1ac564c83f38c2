/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dicom/new_file.h"

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <sys/stat.h>
#include <unistd.h>

namespace bk
{

static bk_status io_error(const std::string &path, bk_err *err)
{
    return bk_fail(err, BK_E_IO, "%s cannot be written: %s", path.c_str(), strerror(errno));
}

NewFile::~NewFile()
{
    if (fd_ >= 0)
        close(fd_);
    if (!name_.empty())
        unlink(name_.c_str());
}

bk_status NewFile::begin(const char *path, bk_err *err)
{
    path_ = path;
    struct stat info;
    if (stat(path, &info) == 0 && !S_ISREG(info.st_mode))
        return bk_fail(err, BK_E_IO, "%s cannot be written: it is not a plain file", path);
    std::string name = path_ + ".XXXXXX";
    fd_ = mkstemp(name.data());
    if (fd_ < 0)
        return io_error(path_, err);
    name_ = name;
    const mode_t mask = umask(0);
    umask(mask);
    return fchmod(fd_, 0666 & ~mask) == 0 ? BK_OK : io_error(path_, err);
}

bk_status NewFile::append(const Bytes &bytes, bk_err *err)
{
    if (lseek(fd_, 0, SEEK_END) < 0)
        return io_error(path_, err);
    for (size_t done = 0; done < bytes.size();) {
        const ssize_t n = write(fd_, bytes.data() + done, bytes.size() - done);
        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0)
            return io_error(path_, err);
        done += static_cast<size_t>(n);
    }
    return BK_OK;
}

bk_status NewFile::finish(bk_err *err)
{
    if (fsync(fd_) != 0 || rename(name_.c_str(), path_.c_str()) != 0)
        return io_error(path_, err);
    name_.clear();
    return BK_OK;
}

} // namespace bk
