/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JPEG 2000 through OpenJPEG, which the toolkit lacks. */
#include <algorithm>
#include <cstring>
#include <openjpeg.h>

#include "dicom/file.h"

namespace bk
{

namespace
{

/* A stream over bytes in memory. */
struct Reader {
    const uint8_t *bytes;
    size_t n, at;
};

OPJ_SIZE_T read_some(void *room, OPJ_SIZE_T wanted, void *data)
{
    Reader *reader = static_cast<Reader *>(data);
    const size_t n = std::min<size_t>(wanted, reader->n - reader->at);
    if (n == 0)
        return static_cast<OPJ_SIZE_T>(-1);
    memcpy(room, reader->bytes + reader->at, n);
    reader->at += n;
    return n;
}

OPJ_OFF_T skip_some(OPJ_OFF_T wanted, void *data)
{
    Reader *reader = static_cast<Reader *>(data);
    if (wanted < 0)
        return -1;
    const size_t n = std::min<size_t>(static_cast<size_t>(wanted), reader->n - reader->at);
    reader->at += n;
    return n == 0 && wanted > 0 ? -1 : static_cast<OPJ_OFF_T>(n);
}

OPJ_BOOL seek_to(OPJ_OFF_T at, void *data)
{
    Reader *reader = static_cast<Reader *>(data);
    if (at < 0 || static_cast<size_t>(at) > reader->n)
        return OPJ_FALSE;
    reader->at = static_cast<size_t>(at);
    return OPJ_TRUE;
}

/* What OpenJPEG hands out, given back whatever happens. */
struct Session {
    opj_stream_t *stream = nullptr;
    opj_codec_t *decoder = nullptr;
    opj_image_t *image = nullptr;
    Session() = default;
    Session(const Session &) = delete;
    Session &operator=(const Session &) = delete;
    ~Session()
    {
        opj_image_destroy(image);
        if (decoder)
            opj_destroy_codec(decoder);
        if (stream)
            opj_stream_destroy(stream);
    }
};

bool start(Session *session, Reader *reader)
{
    static const uint8_t box[6] = {0, 0, 0, 12, 'j', 'P'}; /* some writers leave the file wrapping on */
    const bool wrapped = reader->n > sizeof box && memcmp(reader->bytes, box, sizeof box) == 0;
    session->stream = opj_stream_create(64 * 1024, OPJ_TRUE);
    session->decoder = opj_create_decompress(wrapped ? OPJ_CODEC_JP2 : OPJ_CODEC_J2K);
    if (!session->stream || !session->decoder)
        return false;
    opj_stream_set_read_function(session->stream, read_some);
    opj_stream_set_skip_function(session->stream, skip_some);
    opj_stream_set_seek_function(session->stream, seek_to);
    opj_stream_set_user_data(session->stream, reader, nullptr);
    opj_stream_set_user_data_length(session->stream, reader->n);
    opj_dparameters_t parameters;
    opj_set_default_decoder_parameters(&parameters);
    /* strict: a stream that ends early is an error, not a picture with invented parts */
    return opj_setup_decoder(session->decoder, &parameters) &&
           opj_decoder_set_strict_mode(session->decoder, OPJ_TRUE);
}

/* Sizes are checked after the header and before anything is decoded: they decide what is allocated. */
bk_status check_image(const opj_image_t *image, const PixelForm &form, bk_err *err)
{
    const bool one = image->numcomps == 1;
    const unsigned rows = image->y1 - image->y0, cols = image->x1 - image->x0;
    if (!one || rows != static_cast<unsigned>(form.rows) || cols != static_cast<unsigned>(form.cols) ||
        image->comps[0].dx != 1 || image->comps[0].dy != 1)
        return bk_fail(err, BK_E_DATA,
                       "a JPEG 2000 of %u rows, %u columns and %u components was found, %d, %d and 1 were expected",
                       rows, cols, image->numcomps, form.rows, form.cols);
    if (image->comps[0].prec < 1 || image->comps[0].prec > form.allocated_bits)
        return bk_fail(err, BK_E_DATA, "a JPEG 2000 of %u bits was found, at most %u were expected",
                       image->comps[0].prec, form.allocated_bits);
    return BK_OK;
}

bk_status undecodable(bk_err *err)
{
    return bk_fail(err, BK_E_DATA, "an undecodable or damaged JPEG 2000 was found");
}

/* Values as the bits of a cell, two's complement for signed ones. */
bk_status copy_values(const opj_image_t *image, const PixelForm &form, uint16_t *out, bk_err *err)
{
    const opj_image_comp_t &component = image->comps[0];
    if (!component.data || component.w != static_cast<OPJ_UINT32>(form.cols) ||
        component.h != static_cast<OPJ_UINT32>(form.rows))
        return undecodable(err);
    const int low = component.sgnd ? -(1 << (component.prec - 1)) : 0;
    const int high = low + (1 << component.prec) - 1;
    const size_t n = form.pixels();
    for (size_t i = 0; i < n; i++)
        out[i] = static_cast<uint16_t>(std::clamp(component.data[i], low, high));
    return BK_OK;
}

} // namespace

bk_status decode_jpeg_2000(const std::vector<uint8_t> &bytes, const PixelForm &form, uint16_t *out,
                           unsigned *precision, bk_err *err)
{
    Reader reader = {bytes.data(), bytes.size(), 0};
    Session session;
    if (!start(&session, &reader))
        return bk_fail(err, BK_E_INTERNAL, "OpenJPEG could not be started");
    if (!opj_read_header(session.stream, session.decoder, &session.image) || !session.image)
        return undecodable(err);
    const bk_status status = check_image(session.image, form, err);
    if (status != BK_OK)
        return status;
    if (!opj_decode(session.decoder, session.stream, session.image) ||
        !opj_end_decompress(session.decoder, session.stream))
        return undecodable(err);
    *precision = session.image->comps[0].prec;
    return copy_values(session.image, form, out, err);
}

const char *jpeg_2000_version()
{
    return opj_version();
}

} // namespace bk
