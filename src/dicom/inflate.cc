/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dicom/inflate.h"

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <fcntl.h>
#include <string>
#include <unistd.h>
#include <vector>
#include <zlib.h>

namespace bk
{

namespace
{

int open_unnamed_file()
{
    const char *folder = getenv("TMPDIR");
    std::string name = std::string(folder && *folder ? folder : "/tmp") + "/branchkeep-XXXXXX";
    const int fd = mkostemp(name.data(), O_CLOEXEC);
    if (fd >= 0)
        unlink(name.c_str());
    return fd;
}

bool write_fully(int fd, const unsigned char *bytes, size_t n)
{
    while (n > 0) {
        const ssize_t done = write(fd, bytes, n);
        if (done < 0 && errno == EINTR)
            continue;
        if (done <= 0)
            return false;
        bytes += done;
        n -= static_cast<size_t>(done);
    }
    return true;
}

/* zlib's state, let go whatever happens */
struct Inflater {
    z_stream stream;
    bool ready;
    Inflater() : stream(), ready(inflateInit2(&stream, -MAX_WBITS) == Z_OK)
    {
    }
    ~Inflater()
    {
        if (ready)
            inflateEnd(&stream);
    }
    Inflater(const Inflater &) = delete;
    Inflater &operator=(const Inflater &) = delete;
};

/* Take in what is at hand and write out all it gives. *ended is set at the end of the stream. */
bk_status drain(z_stream &stream, int fd, uint64_t cap_bytes, std::vector<unsigned char> &out, bool *ended, bk_err *err)
{
    do {
        stream.next_out = out.data();
        stream.avail_out = static_cast<uInt>(out.size());
        const int code = inflate(&stream, Z_NO_FLUSH);
        if (code == Z_MEM_ERROR)
            return bk_fail(err, BK_E_INTERNAL, "out of memory while inflating");
        if (code != Z_OK && code != Z_STREAM_END && code != Z_BUF_ERROR)
            return bk_fail(err, BK_E_DATA, "a damaged deflate stream was found after %llu inflated bytes",
                           static_cast<unsigned long long>(stream.total_out));
        if (stream.total_out > cap_bytes)
            return bk_fail(err, BK_E_LIMIT, "a deflated data set that grows beyond %llu bytes was found, %llu is the most",
                           static_cast<unsigned long long>(cap_bytes), static_cast<unsigned long long>(cap_bytes));
        if (!write_fully(fd, out.data(), out.size() - stream.avail_out))
            return bk_fail(err, BK_E_IO, "the inflated data set cannot be written to the temporary folder: %s",
                           strerror(errno));
        *ended = code == Z_STREAM_END;
    } while (!*ended && stream.avail_out == 0);
    return BK_OK;
}

} // namespace

bk_status inflate_into(const Source &from, uint64_t begin, uint64_t cap_bytes, Source *out, bk_err *err)
{
    Inflater inflater;
    if (!inflater.ready)
        return bk_fail(err, BK_E_INTERNAL, "zlib could not be started");
    const int fd = open_unnamed_file();
    if (fd < 0)
        return bk_fail(err, BK_E_IO, "no temporary file can be made: %s", strerror(errno));
    std::vector<unsigned char> in_bytes(64 * 1024), out_bytes(256 * 1024);
    bool ended = false;
    bk_status status = BK_OK;
    for (uint64_t at = begin; status == BK_OK && !ended && at < from.size();) {
        const size_t n = static_cast<size_t>(std::min<uint64_t>(in_bytes.size(), from.size() - at));
        status = from.read(at, in_bytes.data(), n, err);
        if (status != BK_OK)
            break;
        inflater.stream.next_in = in_bytes.data();
        inflater.stream.avail_in = static_cast<uInt>(n);
        status = drain(inflater.stream, fd, cap_bytes, out_bytes, &ended, err);
        at += n;
    }
    if (status != BK_OK) {
        close(fd);
        return status;
    }
    return out->adopt(fd, err);
}

} // namespace bk
