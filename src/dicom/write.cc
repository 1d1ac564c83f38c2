/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing an XA file: the header through the toolkit, the frames one by one behind it, so that a long run needs no
   more memory than one frame (compressed: than what it is compressed to). */
#include "dicom/write.h"

#include <cerrno>
#include <cmath>
#include <cstring>
#include <memory>
#include <string>
#include <sys/stat.h>
#include <unistd.h>
#include <vector>

#include "dcmtk/dcmdata/dcdatset.h"
#include "dcmtk/dcmdata/dcfilefo.h"
#include "dcmtk/dcmdata/dcuid.h"
#include "dcmtk/dcmjpeg/djcparam.h"
#include "dcmtk/dcmjpeg/djeijg8.h"

#include "dicom/guard.h"

namespace bk
{

namespace
{

using Bytes = std::vector<uint8_t>;

bk_status io_error(const char *path, bk_err *err)
{
    return bk_fail(err, BK_E_IO, "%s cannot be written: %s", path, strerror(errno));
}

/* A file beside the target that takes its place when all is written, and goes away when it is not. */
class NewFile
{
  public:
    NewFile() = default;
    NewFile(const NewFile &) = delete;
    NewFile &operator=(const NewFile &) = delete;
    ~NewFile()
    {
        if (fd_ >= 0)
            close(fd_);
        if (!name_.empty())
            unlink(name_.c_str());
    }
    bk_status begin(const char *path, bk_err *err)
    {
        path_ = path;
        struct stat info;
        if (stat(path, &info) == 0 && !S_ISREG(info.st_mode))
            return bk_fail(err, BK_E_IO, "%s cannot be written: it is not a plain file", path);
        std::string name = path_ + ".XXXXXX";
        fd_ = mkstemp(name.data());
        if (fd_ < 0)
            return io_error(path, err);
        name_ = name;
        const mode_t mask = umask(0);
        umask(mask);
        return fchmod(fd_, 0666 & ~mask) == 0 ? BK_OK : io_error(path, err);
    }
    const char *name() const
    {
        return name_.c_str();
    }
    /* behind all that is there */
    bk_status append(const Bytes &bytes, bk_err *err)
    {
        if (lseek(fd_, 0, SEEK_END) < 0)
            return io_error(path_.c_str(), err);
        for (size_t done = 0; done < bytes.size();) {
            const ssize_t n = write(fd_, bytes.data() + done, bytes.size() - done);
            if (n < 0 && errno == EINTR)
                continue;
            if (n <= 0)
                return io_error(path_.c_str(), err);
            done += static_cast<size_t>(n);
        }
        return BK_OK;
    }
    bk_status finish(bk_err *err)
    {
        if (fsync(fd_) != 0 || rename(name_.c_str(), path_.c_str()) != 0)
            return io_error(path_.c_str(), err);
        name_.clear();
        return BK_OK;
    }

  private:
    std::string path_, name_;
    int fd_ = -1;
};

bk_status check_description(const bk_dicom_out &what, bk_err *err)
{
    const bool sizes = what.rows >= 1 && what.cols >= 1 && what.rows <= BK_DICOM_SIDE_MAX &&
                       what.cols <= BK_DICOM_SIDE_MAX && what.frames >= 1 && what.frames <= BK_DICOM_FRAMES_MAX;
    if (!sizes)
        return bk_fail(err, BK_E_USAGE, "%d rows, %d columns and %d frames cannot be written, 1 to %d, %d and %d can",
                       what.rows, what.cols, what.frames, BK_DICOM_SIDE_MAX, BK_DICOM_SIDE_MAX, BK_DICOM_FRAMES_MAX);
    if (what.bits_stored < 8 || what.bits_stored > 16)
        return bk_fail(err, BK_E_USAGE, "%d bits cannot be written, 8 to 16 can", what.bits_stored);
    if (std::isfinite(what.jpeg_ratio) && (what.bits_stored != 8 || what.jpeg_ratio < 1))
        return bk_fail(err, BK_E_USAGE, "JPEG of %d bits and ratio %g cannot be written, 8 bits and 1 or more can",
                       what.bits_stored, what.jpeg_ratio);
    if (!what.uid_seed || !*what.uid_seed)
        return bk_fail(err, BK_E_USAGE, "no seed for the UIDs was given");
    for (size_t i = 0; i < what.r_waves_n; i++)
        if (what.r_waves[i] < 1 || what.r_waves[i] > what.frames || what.r_waves[i] > 65535)
            return bk_fail(err, BK_E_USAGE, "an R wave at frame %d of %d cannot be written", what.r_waves[i],
                           what.frames);
    return BK_OK;
}

/* The values of one frame as bytes. */
class FrameSource
{
  public:
    FrameSource(const bk_dicom_out &what, bk_dicom_next_frame next, void *context)
        : what_(what), next_(next), context_(context),
          px_(static_cast<size_t>(what.rows) * static_cast<size_t>(what.cols))
    {
    }
    bk_status fill(int32_t frame, Bytes *out, bk_err *err)
    {
        const bk_status status = next_(context_, frame, px_.data(), err);
        if (status != BK_OK)
            return status;
        const bool wide = what_.bits_stored > 8;
        out->resize(px_.size() * (wide ? 2 : 1));
        for (size_t i = 0; i < px_.size(); i++) {
            if (px_[i] >> what_.bits_stored)
                return bk_fail(err, BK_E_USAGE, "a value of %u was given in frame %d, %d bits were expected", px_[i],
                               frame, what_.bits_stored);
            if (wide) {
                (*out)[2 * i] = static_cast<uint8_t>(px_[i] & 0xff);
                (*out)[2 * i + 1] = static_cast<uint8_t>(px_[i] >> 8);
            } else {
                (*out)[i] = static_cast<uint8_t>(px_[i]);
            }
        }
        return BK_OK;
    }

  private:
    const bk_dicom_out &what_;
    bk_dicom_next_frame next_;
    void *context_;
    std::vector<uint16_t> px_;
};

bk_status compress(const bk_dicom_out &what, const Bytes &raw, int quality, Bytes *out, bk_err *err)
{
    const DJCodecParameter parameter(ECC_monochrome, EDC_never, EUC_never, EPC_default, OFFalse, OFFalse, OFFalse,
                                     OFTrue /* best Huffman tables */);
    DJCompressIJG8Bit encoder(parameter, EJM_baseline, static_cast<Uint8>(quality));
    Bytes copy(raw); /* the encoder wants to be able to write into it */
    Uint8 *to = nullptr;
    Uint32 length = 0;
    const OFCondition result =
        encoder.encode(static_cast<Uint16>(what.cols), static_cast<Uint16>(what.rows), EPI_Monochrome2, 1, copy.data(),
                       to, length);
    const std::unique_ptr<Uint8[]> owner(to);
    if (result.bad() || !to)
        return bk_fail(err, BK_E_INTERNAL, "a frame could not be compressed: %s", result.text());
    out->assign(to, to + length);
    return BK_OK;
}

/* The quality whose ratio on this frame is nearest to the one asked for: bytes grow with quality, so by bisection. */
bk_status find_quality(const bk_dicom_out &what, const Bytes &raw, int *quality, bk_err *err)
{
    int low = 1, high = 100; /* low is small enough, unless even 1 is not; high is the next candidate above */
    const double wanted = static_cast<double>(raw.size()) / what.jpeg_ratio;
    Bytes bytes;
    while (low < high) {
        const int middle = (low + high + 1) / 2;
        const bk_status status = compress(what, raw, middle, &bytes, err);
        if (status != BK_OK)
            return status;
        if (static_cast<double>(bytes.size()) <= wanted)
            low = middle;
        else
            high = middle - 1;
    }
    *quality = low;
    return BK_OK;
}

/* All frames compressed, at the quality that suits the first. */
bk_status compress_all(const bk_dicom_out &what, FrameSource *frames, std::vector<Bytes> *out, double *ratio,
                       bk_err *err)
{
    Bytes raw;
    int quality = 0;
    double before = 0, after = 0;
    for (int32_t k = 1; k <= what.frames; k++) {
        bk_status status = frames->fill(k, &raw, err);
        if (status == BK_OK && k == 1)
            status = find_quality(what, raw, &quality, err);
        out->emplace_back();
        if (status == BK_OK)
            status = compress(what, raw, quality, &out->back(), err);
        if (status != BK_OK)
            return status;
        before += static_cast<double>(raw.size());
        after += static_cast<double>(out->back().size());
    }
    *ratio = before / after;
    return BK_OK;
}

void put_u32(Bytes *out, uint64_t value)
{
    for (int shift = 0; shift < 32; shift += 8)
        out->push_back(static_cast<uint8_t>(value >> shift & 0xff));
}

/* (7FE0,0010) in explicit VR little endian */
Bytes pixel_element(char vr_end, uint64_t length)
{
    Bytes out = {0xe0, 0x7f, 0x10, 0x00, 'O', static_cast<uint8_t>(vr_end), 0, 0};
    put_u32(&out, length);
    return out;
}

Bytes item(uint16_t element, uint64_t length)
{
    Bytes out = {0xfe, 0xff, static_cast<uint8_t>(element & 0xff), static_cast<uint8_t>(element >> 8)};
    put_u32(&out, length);
    return out;
}

bk_status write_header(const bk_dicom_out &what, double ratio, NewFile *file, bk_err *err)
{
    DcmFileFormat format;
    bk_status status = fill_header(what, ratio, format.getDataset(), err);
    if (status != BK_OK)
        return status;
    const E_TransferSyntax syntax = std::isfinite(ratio) ? EXS_JPEGProcess1 : EXS_LittleEndianExplicit;
    const OFCondition result = format.saveFile(file->name(), syntax, EET_ExplicitLength, EGL_withoutGL);
    if (result.bad())
        return bk_fail(err, BK_E_IO, "the header cannot be written: %s", result.text());
    return BK_OK;
}

bk_status write_compressed(const std::vector<Bytes> &frames, NewFile *file, bk_err *err)
{
    Bytes head = pixel_element('B', undefined_length);
    Bytes table;
    uint64_t offset = 0;
    for (const Bytes &frame : frames) {
        put_u32(&table, offset);
        offset += 8 + frame.size();
    }
    if (offset > 0xffffffffu)
        table.clear(); /* an empty table is allowed, a wrong one is not */
    const Bytes table_item = item(0xe000, table.size());
    head.insert(head.end(), table_item.begin(), table_item.end());
    head.insert(head.end(), table.begin(), table.end());
    bk_status status = file->append(head, err);
    for (size_t k = 0; status == BK_OK && k < frames.size(); k++) {
        status = file->append(item(0xe000, frames[k].size()), err);
        if (status == BK_OK)
            status = file->append(frames[k], err);
    }
    return status == BK_OK ? file->append(item(0xe0dd, 0), err) : status;
}

bk_status write_native(const bk_dicom_out &what, FrameSource *frames, NewFile *file, bk_err *err)
{
    const uint64_t bytes = static_cast<uint64_t>(what.rows) * static_cast<uint64_t>(what.cols) *
                           (what.bits_stored > 8 ? 2 : 1) * static_cast<uint64_t>(what.frames);
    if (bytes >= 0xfffffffeu) /* PS3.5 7.1.1: the length has 32 bits */
        return bk_fail(err, BK_E_LIMIT, "%llu bytes of pixel data cannot be written, below 2^32 can",
                       static_cast<unsigned long long>(bytes));
    bk_status status = file->append(pixel_element(what.bits_stored > 8 ? 'W' : 'B', bytes + bytes % 2), err);
    Bytes raw;
    for (int32_t k = 1; status == BK_OK && k <= what.frames; k++) {
        status = frames->fill(k, &raw, err);
        if (status == BK_OK)
            status = file->append(raw, err);
    }
    if (status == BK_OK && bytes % 2)
        status = file->append(Bytes(1, 0), err);
    return status;
}

bk_status write_file(const char *path, const bk_dicom_out &what, bk_dicom_next_frame next, void *context, bk_err *err)
{
    bk_status status = check_description(what, err);
    if (status == BK_OK)
        status = start_toolkit(err);
    if (status != BK_OK)
        return status;
    FrameSource frames(what, next, context);
    std::vector<Bytes> compressed;
    double ratio = NAN;
    if (std::isfinite(what.jpeg_ratio))
        status = compress_all(what, &frames, &compressed, &ratio, err);
    NewFile file;
    if (status == BK_OK)
        status = file.begin(path, err);
    if (status == BK_OK)
        status = write_header(what, ratio, &file, err);
    if (status == BK_OK)
        status = compressed.empty() ? write_native(what, &frames, &file, err) : write_compressed(compressed, &file, err);
    return status == BK_OK ? file.finish(err) : status;
}

} // namespace

} // namespace bk

extern "C" bk_status bk_dicom_write(const char *path, const bk_dicom_out *what, bk_dicom_next_frame next, void *context,
                                    bk_err *err)
{
    return bk::guarded(err, [&] { return bk::write_file(path, *what, next, context, err); });
}
