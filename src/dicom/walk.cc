/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dcmtk/config/osconfig.h" /* must be the first of the toolkit */

#include "dicom/walk.h"

#include <cstring>
#include <vector>

#include "dcmtk/dcmdata/dctag.h"

namespace bk
{

namespace
{

constexpr uint16_t item_group = 0xfffe;
constexpr uint16_t item_start = 0xe000, item_end = 0xe00d, sequence_end = 0xe0dd;

enum class Kind { elements, items, fragments };

struct Level {
    Kind kind;
    bool open_ended; /* ends with a delimiter, not at `end` */
    uint64_t end;    /* no element may reach beyond it */
    Encoding encoding;
    uint32_t count;
};

bk_status damaged(uint64_t at, const char *what, bk_err *err)
{
    return bk_fail(err, BK_E_DATA, "a damaged header was found at byte %llu: %s", static_cast<unsigned long long>(at),
                   what);
}

bk_status cut(uint64_t size, bk_err *err)
{
    return bk_fail(err, BK_E_DATA, "a cut file was found: it ends at byte %llu, inside its header",
                   static_cast<unsigned long long>(size));
}

class Walk
{
  public:
    Walk(const Source &source, Encoding encoding, uint64_t begin)
        : source_(source), begin_(begin), at_(begin), levels_{{Kind::elements, false, source.size(), encoding, 0}}
    {
    }

    bk_status run(Element *pixels, bk_err *err)
    {
        for (;;) {
            leave_finished_levels();
            if (at_ - begin_ > header_bytes_max)
                return bk_fail(err, BK_E_LIMIT, "a header of over %llu bytes was found, that is the most",
                               static_cast<unsigned long long>(header_bytes_max));
            if (levels_.size() == 1 && at_ == source_.size())
                return bk_fail(err, BK_E_DATA, "a data set without pixel data was found, an image was expected");
            Element element;
            bk_status status = read_element(source_, levels_.back().encoding, at_, &element, err);
            if (status != BK_OK)
                return status;
            if (levels_.size() == 1 && element.is(0x7fe0, 0x0010)) {
                *pixels = element;
                return BK_OK;
            }
            status = take(element, err);
            if (status != BK_OK)
                return status;
        }
    }

  private:
    void leave_finished_levels()
    {
        while (levels_.size() > 1 && !levels_.back().open_ended && at_ >= levels_.back().end)
            levels_.pop_back();
    }

    bk_status take(const Element &element, bk_err *err)
    {
        Level &level = levels_.back();
        level.count++;
        if (++total_ > header_elements_max || (level.kind == Kind::elements && level.count > item_elements_max))
            return bk_fail(err, BK_E_LIMIT, "too many data elements were found, %u in all and %u in one item are the most",
                           header_elements_max, item_elements_max);
        if (element.group == item_group)
            return take_delimiter(element, err);
        if (level.kind != Kind::elements)
            return damaged(at_, "a data element stands where an item was expected", err);
        Encoding inside = level.encoding;
        Kind kind;
        bk_status status = BK_OK;
        if (!opens_level(element, &inside, &kind, &status, err))
            return status == BK_OK ? skip(element, err) : status;
        return push(kind, element, inside, err);
    }

    bk_status take_delimiter(const Element &element, bk_err *err)
    {
        const Level level = levels_.back();
        if (element.element == item_start && level.kind == Kind::items)
            return push(Kind::elements, element, level.encoding, err);
        if (element.element == item_start && level.kind == Kind::fragments)
            return element.length == undefined_length ? damaged(at_, "a fragment has no length", err) : skip(element, err);
        const uint16_t closes = level.kind == Kind::elements ? item_end : sequence_end;
        if (element.element != closes || !level.open_ended)
            return damaged(at_, "an item tag is out of place", err);
        levels_.pop_back();
        at_ = element.value_at;
        return BK_OK;
    }

    /* Whether the element holds items: says so in *kind, and how they are encoded in *inside. */
    bool opens_level(const Element &element, Encoding *inside, Kind *kind, bk_status *status, bk_err *err)
    {
        const bool undefined = element.length == undefined_length;
        *kind = Kind::items;
        if (!inside->explicit_vr)
            return undefined || implicit_sequence(element, status, err);
        if (strcmp(element.vr, "SQ") == 0)
            return true;
        if (!undefined)
            return false;
        if (strcmp(element.vr, "UN") == 0) { /* PS3.5 6.2.2 note: such a value is implicit little endian */
            *inside = {false, false};
            return true;
        }
        *kind = Kind::fragments;
        if (strcmp(element.vr, "OB") != 0 && strcmp(element.vr, "OW") != 0)
            *status = damaged(at_, "a plain value has no length", err);
        return *status == BK_OK;
    }

    /* Implicit VR does not say what is a sequence. The dictionary does for standard tags; for the others, which the
       toolkit may know from its private dictionary, the first bytes are taken as the sign. */
    bool implicit_sequence(const Element &element, bk_status *status, bk_err *err)
    {
        const DcmEVR vr = DcmTag(element.group, element.element).getEVR();
        if (vr == EVR_SQ)
            return true;
        const bool unknown = vr == EVR_UN || vr == EVR_UNKNOWN || vr == EVR_UNKNOWN2B;
        if (!unknown || element.length < 8 || source_.size() - element.value_at < 8)
            return false;
        static const unsigned char item_tag[4] = {0xfe, 0xff, 0x00, 0xe0};
        unsigned char first[4];
        *status = source_.read(element.value_at, first, sizeof first, err);
        return *status == BK_OK && memcmp(first, item_tag, sizeof first) == 0;
    }

    bk_status check_extent(const Element &element, bk_err *err)
    {
        const Level &level = levels_.back();
        if (element.value_at + element.length <= level.end)
            return BK_OK;
        if (level.end == source_.size())
            return cut(source_.size(), err);
        return damaged(at_, "a value reaches beyond the item around it", err);
    }

    bk_status skip(const Element &element, bk_err *err)
    {
        const bk_status status = check_extent(element, err);
        at_ = element.value_at + element.length;
        return status;
    }

    bk_status push(Kind kind, const Element &element, Encoding encoding, bk_err *err)
    {
        if (levels_.size() > 2 * header_depth_max)
            return bk_fail(err, BK_E_LIMIT, "sequences nested deeper than %u were found, that is the most",
                           header_depth_max);
        const bool open_ended = element.length == undefined_length;
        if (!open_ended) {
            const bk_status status = check_extent(element, err);
            if (status != BK_OK)
                return status;
        }
        const uint64_t end = open_ended ? levels_.back().end : element.value_at + element.length;
        levels_.push_back({kind, open_ended, end, encoding, 0});
        at_ = element.value_at;
        return BK_OK;
    }

    const Source &source_;
    uint64_t begin_, at_;
    uint32_t total_ = 0;
    std::vector<Level> levels_;
};

} // namespace

bk_status read_element(const Source &source, Encoding encoding, uint64_t at, Element *out, bk_err *err)
{
    unsigned char raw[12];
    if (source.size() - at < 8)
        return cut(source.size(), err);
    bk_status status = source.read(at, raw, 8, err);
    if (status != BK_OK)
        return status;
    *out = Element();
    out->group = get_u16(raw, encoding.big_endian);
    out->element = get_u16(raw + 2, encoding.big_endian);
    out->header_at = at;
    out->value_at = at + 8;
    if (out->group == item_group || !encoding.explicit_vr) {
        out->length = get_u32(raw + 4, encoding.big_endian);
        return BK_OK;
    }
    memcpy(out->vr, raw + 4, 2);
    if (!DcmVR(out->vr).usesExtendedLengthEncoding()) {
        out->length = get_u16(raw + 6, encoding.big_endian);
        return BK_OK;
    }
    if (source.size() - at < 12)
        return cut(source.size(), err);
    status = source.read(at, raw, 12, err);
    out->length = get_u32(raw + 8, encoding.big_endian);
    out->value_at = at + 12;
    return status;
}

bk_status walk_to_pixels(const Source &source, Encoding encoding, uint64_t begin, Element *pixels, bk_err *err)
{
    return Walk(source, encoding, begin).run(pixels, err);
}

} // namespace bk
