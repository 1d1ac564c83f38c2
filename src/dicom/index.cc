/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Where each frame lies in the file.

   Native frames lie one behind the other. Compressed ones are in fragments (PS3.5 A.4), and which fragments make a
   frame is told, in order of trust: by their number, when it is that of the frames, or when there is one frame; by a
   basic offset table that fits them; by the marker every compressed frame begins with. A cut file keeps its whole
   frames. */
#include <algorithm>
#include <cstring>

#include "dicom/file.h"

namespace bk
{

namespace
{

constexpr size_t fragments_max = 1000000;

class FragmentReader
{
  public:
    FragmentReader(const Element &pixels, bk_dicom *file) : file_(file), at_(pixels.value_at)
    {
    }

    /* Read on to the end of the pixel data, or of the file. */
    bk_status read_all(bk_err *err)
    {
        for (bool first = true;; first = false) {
            Piece piece;
            bool more = false;
            bk_status status = next(&piece, &more, err);
            if (status != BK_OK)
                return status;
            if (!more)
                return BK_OK;
            if (first)
                status = read_offsets(piece, err);
            else
                status = keep(piece, err);
            if (status != BK_OK)
                return status;
        }
    }

    bool cut = false;
    std::vector<uint32_t> offsets;      /* the basic offset table */
    std::vector<uint64_t> item_offsets; /* of each fragment's item tag, from the first one's */

  private:
    bk_status next(Piece *piece, bool *more, bk_err *err)
    {
        const Source &source = file_->source;
        Element element;
        *more = false;
        if (at_ > source.size() || source.size() - at_ < 8) {
            cut = true;
            return BK_OK;
        }
        const bk_status status = read_tag(&element, err);
        if (status != BK_OK || element.is(0xfffe, 0xe0dd))
            return status;
        if (!element.is(0xfffe, 0xe000) || element.length == undefined_length)
            return bk_fail(err, BK_E_DATA, "damaged pixel data were found at byte %llu: an item was expected",
                           static_cast<unsigned long long>(at_));
        if (element.length > source.size() - element.value_at) {
            cut = true;
            return BK_OK;
        }
        item_at_ = element.header_at;
        *piece = {element.value_at, element.length};
        at_ = element.value_at + element.length;
        *more = true;
        return BK_OK;
    }

    /* After a fragment of odd length some writers put a filling byte that they do not count. */
    bk_status read_tag(Element *element, bk_err *err)
    {
        const Encoding encoding = {true, false};
        bk_status status = read_element(file_->source, encoding, at_, element, err);
        if (status == BK_OK && element->group != 0xfffe && after_odd_ && file_->source.size() - at_ > 8) {
            Element shifted;
            status = read_element(file_->source, encoding, at_ + 1, &shifted, err);
            if (status == BK_OK && shifted.group == 0xfffe)
                *element = shifted;
        }
        return status;
    }

    bk_status read_offsets(const Piece &piece, bk_err *err)
    {
        first_item_at_ = piece.at + piece.length;
        if (piece.length % 4 != 0 || piece.length / 4 > BK_DICOM_FRAMES_MAX)
            return BK_OK; /* of no use: the fragments themselves are looked at instead */
        std::vector<unsigned char> raw(piece.length);
        const bk_status status = file_->source.read(piece.at, raw.data(), raw.size(), err);
        for (size_t i = 0; status == BK_OK && i < raw.size(); i += 4)
            offsets.push_back(get_u32(&raw[i], false));
        return status;
    }

    bk_status keep(const Piece &piece, bk_err *err)
    {
        if (file_->index.fragments.size() == fragments_max)
            return bk_fail(err, BK_E_LIMIT, "over %zu fragments of pixel data were found, that is the most",
                           fragments_max);
        after_odd_ = piece.length % 2 != 0;
        if (after_odd_)
            warn(&file_->info, "odd_fragment", "a fragment of odd length was found; read all the same");
        item_offsets.push_back(item_at_ - first_item_at_);
        file_->index.fragments.push_back(piece);
        return BK_OK;
    }

    bk_dicom *file_;
    uint64_t at_, item_at_ = 0, first_item_at_ = 0;
    bool after_odd_ = false;
};

/* Whether a fragment begins a frame: the start marker of JPEG and JPEG-LS, that of a JPEG 2000 codestream or file, or
   an RLE header (PS3.5 G.5) with the right number of segments. */
bk_status begins_frame(const bk_dicom *file, const Piece &piece, bool *answer, bk_err *err)
{
    unsigned char head[8] = {0};
    const bk_status status = file->source.read(piece.at, head, std::min<size_t>(sizeof head, piece.length), err);
    static const unsigned char box[6] = {0, 0, 0, 12, 'j', 'P'};
    switch (file->syntax->codec) {
    case Codec::rle:
        *answer = get_u32(head, false) == file->form.allocated_bits / 8 && get_u32(head + 4, false) == 64;
        break;
    case Codec::jpeg_2000:
        *answer = (head[0] == 0xff && head[1] == 0x4f) || memcmp(head, box, sizeof box) == 0;
        break;
    case Codec::jpeg:
    case Codec::jpeg_ls:
        *answer = head[0] == 0xff && head[1] == 0xd8;
        break;
    case Codec::native:
        *answer = false;
        break;
    }
    return status;
}

/* Whether a fragment's last bytes, but for filling, are the end marker FFD9. RLE has none. */
bk_status ends_frame(const bk_dicom *file, const Piece &piece, bool *answer, bk_err *err)
{
    unsigned char tail[16] = {0};
    const size_t n = std::min<size_t>(sizeof tail, piece.length);
    const bk_status status = file->source.read(piece.at + piece.length - n, tail, n, err);
    size_t end = n;
    while (end > 2 && tail[end - 1] == 0)
        end--;
    *answer = file->syntax->codec == Codec::rle || (end >= 2 && tail[end - 2] == 0xff && tail[end - 1] == 0xd9);
    return status;
}

void one_fragment_each(FrameIndex *index)
{
    index->first.clear();
    for (uint32_t i = 0; i < index->fragments.size(); i++)
        index->first.push_back(i);
}

/* True when every offset is that of a fragment, rising from 0. Offsets beyond a cut do not count against it. */
bool group_by_offsets(const FragmentReader &reader, size_t frames, FrameIndex *index)
{
    index->first.clear();
    if (reader.offsets.size() != frames || reader.offsets[0] != 0)
        return false;
    const std::vector<uint64_t> &items = reader.item_offsets;
    for (size_t k = 0; k < frames; k++) {
        const auto found = std::lower_bound(items.begin(), items.end(), reader.offsets[k]);
        if (found == items.end() && reader.cut && k > 0 && reader.offsets[k] > reader.offsets[k - 1])
            break;
        if (found == items.end() || *found != reader.offsets[k])
            return false;
        const uint32_t at = static_cast<uint32_t>(found - items.begin());
        if (k > 0 && at <= index->first.back())
            return false;
        index->first.push_back(at);
    }
    return true;
}

bk_status group_by_markers(const bk_dicom *file, FrameIndex *index, bk_err *err)
{
    index->first.clear();
    for (uint32_t i = 0; i < index->fragments.size(); i++) {
        bool begins = false;
        const bk_status status = begins_frame(file, index->fragments[i], &begins, err);
        if (status != BK_OK)
            return status;
        if (begins)
            index->first.push_back(i);
    }
    return BK_OK;
}

bk_status group_fragments(const FragmentReader &reader, bk_dicom *file, bk_err *err)
{
    FrameIndex *index = &file->index;
    const size_t frames = static_cast<size_t>(file->form.declared_frames), n = index->fragments.size();
    if (n == frames && !reader.cut) { /* a cut one may have that many by chance */
        one_fragment_each(index);
        return BK_OK;
    }
    if (frames == 1) {
        index->first.assign(n > 0 ? 1 : 0, 0);
        return BK_OK;
    }
    if (n > 0 && group_by_offsets(reader, frames, index))
        return BK_OK;
    if (!reader.offsets.empty())
        warn(&file->info, "offset_table", "an offset table that does not fit the fragments was found; not used");
    return group_by_markers(file, index, err);
}

/* Keep the whole frames, say so when some are missing or too many, and close the index. */
bk_status settle_frames(size_t whole, bool cut, bk_dicom *file, bk_err *err)
{
    const size_t declared = static_cast<size_t>(file->form.declared_frames);
    if (whole == 0 && cut)
        return bk_fail(err, BK_E_DATA, "a cut file was found: it ends at byte %llu, inside its first frame",
                       static_cast<unsigned long long>(file->source.size()));
    if (whole == 0)
        return bk_fail(err, BK_E_DATA, "pixel data without one whole frame were found, %d were declared",
                       file->form.declared_frames);
    if (whole < declared)
        warn(&file->info, "truncated", "%zu whole frames of %zu were found%s", whole, declared,
             cut ? "; the file was cut" : "");
    if (whole > declared)
        warn(&file->info, "extra_frames", "more frames than the declared %zu were found; those are left out", declared);
    file->info.frames = static_cast<int32_t>(std::min(whole, declared));
    return BK_OK;
}

bk_status index_fragments(const Element &pixels, bk_dicom *file, bk_err *err)
{
    FragmentReader reader(pixels, file);
    bk_status status = reader.read_all(err);
    if (status == BK_OK)
        status = group_fragments(reader, file, err);
    if (status != BK_OK)
        return status;
    FrameIndex *index = &file->index;
    size_t whole = index->first.size();
    if (reader.cut && whole > 0) {
        /* the last frame may have gone on after the cut: only its end marker tells */
        bool ended = false;
        status = ends_frame(file, index->fragments.back(), &ended, err);
        if (status != BK_OK)
            return status;
        if (!ended)
            whole--;
        else if (whole == static_cast<size_t>(file->form.declared_frames))
            warn(&file->info, "no_end", "the file ends without the end mark of its pixel data; all frames are there");
    }
    index->first.push_back(static_cast<uint32_t>(index->fragments.size()));
    return settle_frames(whole, reader.cut, file, err);
}

bk_status index_native(const Element &pixels, bk_dicom *file, bk_err *err)
{
    const uint64_t there = file->source.size() - pixels.value_at;
    const uint64_t usable = std::min<uint64_t>(pixels.length, there);
    const uint64_t wanted = file->form.frame_bytes() * static_cast<uint64_t>(file->form.declared_frames);
    file->index.native_at = pixels.value_at;
    file->index.word_swapped =
        file->syntax->encoding.big_endian && file->form.allocated_bits == 8 && pixels.vr[1] == 'W';
    if (pixels.length > wanted + wanted % 2)
        warn(&file->info, "extra_bytes", "%llu bytes of pixel data were found, the frames take %llu",
             static_cast<unsigned long long>(pixels.length), static_cast<unsigned long long>(wanted));
    /* extra bytes do not make frames beyond the declared ones */
    const uint64_t whole = std::min(usable, wanted) / file->form.frame_bytes();
    return settle_frames(static_cast<size_t>(whole), there < pixels.length, file, err);
}

} // namespace

bk_status index_frames(const Element &pixels, bk_dicom *file, bk_err *err)
{
    const bool in_fragments = pixels.length == undefined_length;
    if (in_fragments == (file->syntax->codec == Codec::native))
        return bk_fail(err, BK_E_DATA, "%s pixel data were found, transfer syntax %s has them %s",
                       in_fragments ? "compressed" : "uncompressed", file->syntax->uid,
                       in_fragments ? "uncompressed" : "compressed");
    return in_fragments ? index_fragments(pixels, file, err) : index_native(pixels, file, err);
}

namespace
{

bk_status read_native(const bk_dicom *file, uint64_t frame, std::vector<uint8_t> *out, bk_err *err)
{
    const uint64_t bytes = file->form.frame_bytes();
    const uint64_t begin = bytes * frame, end = begin + bytes;
    if (!file->index.word_swapped) {
        out->resize(static_cast<size_t>(bytes));
        return file->source.read(file->index.native_at + begin, out->data(), out->size(), err);
    }
    /* whole words around it: with an odd number of pixels a frame may begin inside one */
    const uint64_t from = begin - begin % 2, to = end + end % 2;
    out->resize(static_cast<size_t>(to - from));
    const bk_status status = file->source.read(file->index.native_at + from, out->data(), out->size(), err);
    for (size_t i = 0; i + 1 < out->size(); i += 2)
        std::swap((*out)[i], (*out)[i + 1]);
    if (from < begin)
        out->erase(out->begin());
    out->resize(static_cast<size_t>(bytes));
    return status;
}

} // namespace

bk_status read_frame_bytes(const bk_dicom *file, int32_t k, std::vector<uint8_t> *out, bk_err *err)
{
    const FrameIndex &index = file->index;
    const size_t frame = static_cast<size_t>(k);
    if (index.first.empty())
        return read_native(file, frame, out, err);
    size_t total = 0;
    for (uint32_t i = index.first[frame]; i < index.first[frame + 1]; i++)
        total += index.fragments[i].length;
    /* four times what the pixels take raw is far more than any coder gives, and bounds the memory */
    if (total > 4 * file->form.frame_bytes() + 65536)
        return bk_fail(err, BK_E_LIMIT, "%zu compressed bytes were found for one frame, %llu are the most", total,
                       static_cast<unsigned long long>(4 * file->form.frame_bytes() + 65536));
    out->resize(total);
    size_t at = 0;
    for (uint32_t i = index.first[frame]; i < index.first[frame + 1]; i++) {
        const Piece &piece = index.fragments[i];
        const bk_status status = file->source.read(piece.at, out->data() + at, piece.length, err);
        if (status != BK_OK)
            return status;
        at += piece.length;
    }
    return BK_OK;
}

} // namespace bk
