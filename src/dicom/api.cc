/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The door: no exception and no pointer of the toolkit's gets through. */
#include "dicom/file.h"

#include <algorithm>
#include <cstring>
#include <memory>
#include <new>

#include "dcmtk/dcmdata/dcdatset.h"
#include "dcmtk/dcmdata/dcistrmb.h"

#include "dicom/guard.h"
#include "dicom/inflate.h"

namespace bk
{

namespace
{

constexpr uint64_t preamble_bytes = 128;

/* The transfer syntax from the file meta information (PS3.10 7.1), which is always explicit little endian, and where
   the data set begins. The group length is not needed and so cannot mislead. */
bk_status read_meta(const Source &source, char uid[65], uint64_t *begin, bk_err *err)
{
    const Encoding encoding = {true, false};
    unsigned char mark[4];
    if (source.size() < preamble_bytes + 4)
        return bk_fail(err, BK_E_DATA, "%llu bytes that are not DICOM were found, a DICOM file was expected",
                       static_cast<unsigned long long>(source.size()));
    bk_status status = source.read(preamble_bytes, mark, sizeof mark, err);
    if (status != BK_OK)
        return status;
    if (memcmp(mark, "DICM", 4) != 0)
        return bk_fail(err, BK_E_DATA, "a file without the mark DICM at byte 128 was found, a DICOM file was expected");
    uint64_t at = preamble_bytes + 4;
    uid[0] = '\0';
    for (;;) {
        Element element;
        unsigned char group[2];
        /* only the group is looked at first: what follows may be deflated */
        if (source.size() - at < 2)
            break;
        status = source.read(at, group, 2, err);
        if (status != BK_OK || get_u16(group, false) != 2)
            break;
        status = read_element(source, encoding, at, &element, err);
        if (status != BK_OK)
            break;
        if (element.length > source.size() - element.value_at)
            return bk_fail(err, BK_E_DATA, "a cut file was found: it ends at byte %llu, inside its header",
                           static_cast<unsigned long long>(source.size()));
        if (element.is(2, 0x10) && element.length <= 64) {
            status = source.read(element.value_at, uid, element.length, err);
            uid[element.length] = '\0';
            for (size_t n = strlen(uid); n > 0 && uid[n - 1] == ' '; n--)
                uid[n - 1] = '\0';
        }
        at = element.value_at + element.length;
    }
    *begin = at;
    if (status == BK_OK && !uid[0])
        return bk_fail(err, BK_E_DATA, "a DICOM file that does not name its transfer syntax was found");
    return status;
}

bk_status unsupported(const char *uid, bk_err *err)
{
    const DcmXfer named(uid);
    return bk_fail(err, BK_E_DATA,
                   "transfer syntax %.64s (%.60s) was found; uncompressed, deflated, RLE, JPEG, JPEG-LS or JPEG 2000 "
                   "was expected",
                   uid, named.getXfer() == EXS_Unknown ? "unknown" : named.getXferName());
}

/* Hand the checked bytes before the pixel data to the toolkit. */
bk_status parse_header(const Source &source, Encoding encoding, uint64_t begin, uint64_t end, DcmDataset *dataset,
                       bk_err *err)
{
    std::vector<unsigned char> bytes(static_cast<size_t>(end - begin));
    const bk_status status = source.read(begin, bytes.data(), bytes.size(), err);
    if (status != BK_OK || bytes.empty())
        return status;
    DcmInputBufferStream stream;
    stream.setBuffer(bytes.data(), static_cast<offile_off_t>(bytes.size()));
    stream.setEos();
    const E_TransferSyntax syntax = !encoding.explicit_vr ? EXS_LittleEndianImplicit
                                    : encoding.big_endian ? EXS_BigEndianExplicit
                                                          : EXS_LittleEndianExplicit;
    dataset->transferInit();
    const OFCondition result = dataset->read(stream, syntax);
    dataset->transferEnd();
    if (result.bad())
        return bk_fail(err, BK_E_DATA, "a damaged header was found: %s", result.text());
    return BK_OK;
}

bk_status open_file(const char *path, bk_dicom *file, bk_err *err)
{
    bk_status status = start_toolkit(err);
    if (status == BK_OK)
        status = file->source.open(path, err);
    char uid[65];
    uint64_t begin = 0;
    if (status == BK_OK)
        status = read_meta(file->source, uid, &begin, err);
    if (status != BK_OK)
        return status;
    file->syntax = find_syntax(uid);
    if (!file->syntax)
        return unsupported(uid, err);
    if (file->syntax->deflated) {
        status = inflate_into(file->source, begin, BK_DICOM_INFLATED_MAX, &file->source, err);
        begin = 0;
    }
    Element pixels = {};
    if (status == BK_OK)
        status = walk_to_pixels(file->source, file->syntax->encoding, begin, &pixels, err);
    DcmDataset dataset;
    if (status == BK_OK)
        status = parse_header(file->source, file->syntax->encoding, begin, pixels.header_at, &dataset, err);
    if (status == BK_OK)
        status = describe(&dataset, file, err);
    if (status == BK_OK)
        status = index_frames(pixels, file, err);
    if (status == BK_OK)
        describe_times(&dataset, file);
    return status;
}

template <typename T> size_t copy_some(const std::vector<T> &from, T *out, size_t n)
{
    const size_t copied = std::min(n, from.size());
    std::copy_n(from.begin(), copied, out);
    return copied;
}

} // namespace

} // namespace bk

extern "C" {

bk_status bk_dicom_open(const char *path, bk_dicom **out, bk_err *err)
{
    *out = nullptr;
    return bk::guarded(err, [&] {
        std::unique_ptr<bk_dicom> file(new bk_dicom);
        const bk_status status = bk::open_file(path, file.get(), err);
        if (status == BK_OK)
            *out = file.release();
        return status;
    });
}

void bk_dicom_close(bk_dicom *file)
{
    delete file;
}

void bk_dicom_describe(const bk_dicom *file, bk_dicom_info *out)
{
    *out = file->info;
}

size_t bk_dicom_frame_times(const bk_dicom *file, double *out, size_t n)
{
    return bk::copy_some(file->times_ms, out, n);
}

size_t bk_dicom_r_waves(const bk_dicom *file, int32_t *out, size_t n)
{
    return bk::copy_some(file->r_waves, out, n);
}

void bk_dicom_hashes(const bk_dicom *file, char sop_uid[65], char patient[65])
{
    memcpy(sop_uid, file->sop_hash, sizeof file->sop_hash);
    memcpy(patient, file->patient_hash, sizeof file->patient_hash);
}

bk_status bk_dicom_frame(bk_dicom *file, int32_t frame, uint16_t *out, size_t capacity, bk_err *err)
{
    return bk::guarded(err, [&] { return bk::decode_frame(file, frame, out, capacity, err); });
}

bk_status bk_dicom_modality_values(const bk_dicom *file, float *out, size_t n, bk_err *err)
{
    const size_t wanted = static_cast<size_t>(1) << file->form.stored_bits;
    if (n < wanted)
        return bk_fail(err, BK_E_USAGE, "room for %zu modality values was given, %zu were expected", n, wanted);
    if (!file->modality.empty()) {
        std::copy(file->modality.begin(), file->modality.end(), out);
        return BK_OK;
    }
    const float lift = file->form.is_signed ? static_cast<float>(wanted / 2) : 0.0f;
    for (size_t i = 0; i < wanted; i++)
        out[i] = static_cast<float>(i) - lift;
    return BK_OK;
}

} /* extern "C" */
