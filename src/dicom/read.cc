/* SPDX-License-Identifier: GPL-3.0-or-later */
/* From a path to an open file: what it is, where its data set lies, the header, the description, the frames.
 */
#include "dicom/file.h"

#include <cstring>

#include "dcmtk/dcmdata/dcdatset.h"
#include "dcmtk/dcmdata/dcistrmb.h"

#include "dicom/inflate.h"

namespace bk
{

namespace
{

constexpr uint64_t preamble_bytes = 128;

bk_status read_uid(const Source &source, const Element &element, char uid[65], bk_err *err)
{
    const bk_status status = source.read(element.value_at, uid, element.length, err);
    uid[status == BK_OK ? element.length : 0] = '\0';
    for (size_t n = strlen(uid); n > 0 && uid[n - 1] == ' '; n--)
        uid[n - 1] = '\0';
    return status;
}

/* The transfer syntax from the file meta information (PS3.10 7.1), which is always explicit little endian,
   and where the data set begins. The group length is not needed and so cannot mislead. */
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
        return bk_fail(err, BK_E_DATA,
                       "a file without the mark DICM at byte 128 was found, a DICOM file was expected");
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
        if (element.is(2, 0x10) && element.length <= 64)
            status = read_uid(source, element, uid, err);
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
    return bk_fail(
        err, BK_E_DATA,
        "transfer syntax %.64s (%.60s) was found; uncompressed, deflated, RLE, JPEG, JPEG-LS or JPEG 2000 "
        "was expected",
        uid, named.getXfer() == EXS_Unknown ? "unknown" : named.getXferName());
}

/* Hand the checked bytes before the pixel data to the toolkit. */
bk_status parse_header(const Source &source, Encoding encoding, uint64_t begin, uint64_t end,
                       DcmDataset *dataset, bk_err *err)
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

} // namespace

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

} // namespace bk
