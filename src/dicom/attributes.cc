/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dicom/attributes.h"

#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <cstring>

#include "dcmtk/dcmdata/dcelem.h"

#include "base/number.h"
#include "dicom/file.h"

namespace bk
{

void warn(bk_dicom_info *info, const char *code, const char *format, ...)
{
    for (size_t i = 0; i < info->warnings_n; i++)
        if (strcmp(info->warnings[i].code, code) == 0)
            return;
    if (info->warnings_n == BK_DICOM_WARNINGS_MAX)
        return;
    bk_dicom_warning *warning = &info->warnings[info->warnings_n++];
    snprintf(warning->code, sizeof warning->code, "%s", code);
    va_list args;
    va_start(args, format);
    vsnprintf(warning->message, sizeof warning->message, format, args);
    va_end(args);
    for (char *p = warning->message; *p; p++) /* parts come from the file: keep to plain ASCII */
        if (static_cast<unsigned char>(*p) < 0x20 || static_cast<unsigned char>(*p) > 0x7e)
            *p = '?';
}

/* Longer than any list of values we read (100 000 frame times); a hostile one would be split into millions. */
static constexpr Uint32 text_bytes_max = 2 * 1024 * 1024;

std::string trimmed(const std::string &text)
{
    static const std::string padding(" \t\0", 3);
    const size_t begin = text.find_first_not_of(padding);
    if (begin == std::string::npos)
        return "";
    return text.substr(begin, text.find_last_not_of(padding) - begin + 1);
}

std::vector<std::string> split_values(const std::string &text)
{
    std::vector<std::string> values;
    size_t begin = 0;
    for (size_t end; (end = text.find('\\', begin)) != std::string::npos; begin = end + 1)
        values.push_back(trimmed(text.substr(begin, end - begin)));
    values.push_back(trimmed(text.substr(begin)));
    return values;
}

bool Attributes::has(const DcmTagKey &tag) const
{
    return item_ && item_->tagExistsWithValue(tag);
}

std::string Attributes::text(const DcmTagKey &tag) const
{
    DcmElement *element = nullptr;
    OFString value;
    if (!item_ || item_->findAndGetElement(tag, element).bad() || !element)
        return "";
    if (element->getLength() > text_bytes_max || element->getOFStringArray(value).bad())
        return "";
    return trimmed(std::string(value.c_str(), value.length()));
}

std::string Attributes::text(const DcmTagKey &tag, size_t index) const
{
    const std::vector<std::string> values = split_values(text(tag));
    return index < values.size() ? values[index] : "";
}

namespace
{

/* Binary numbers do not need to go through text, which would depend on how the toolkit prints them. */
bool binary_values(DcmElement *element, std::vector<double> *out)
{
    const DcmEVR vr = element->ident();
    const unsigned long n = element->getVM();
    out->clear();
    for (unsigned long i = 0; i < n; i++) {
        Float32 f;
        Float64 d;
        Uint16 us;
        Sint16 ss;
        Uint32 ul;
        Sint32 sl;
        if (vr == EVR_FL && element->getFloat32(f, i).good())
            out->push_back(static_cast<double>(f));
        else if (vr == EVR_FD && element->getFloat64(d, i).good())
            out->push_back(d);
        else if (vr == EVR_US && element->getUint16(us, i).good())
            out->push_back(us);
        else if (vr == EVR_SS && element->getSint16(ss, i).good())
            out->push_back(ss);
        else if (vr == EVR_UL && element->getUint32(ul, i).good())
            out->push_back(ul);
        else if (vr == EVR_SL && element->getSint32(sl, i).good())
            out->push_back(sl);
        else
            return false;
        if (!std::isfinite(out->back()))
            out->back() = NAN;
    }
    return true;
}

void warn_bad_number(bk_dicom_info *info, const DcmTagKey &key, const std::string &found)
{
    DcmTag tag(key);
    warn(info, "bad_number", "%s: \"%.40s\" was found, a number was expected; taken as absent", tag.getTagName(),
         found.c_str());
}

} // namespace

std::vector<double> Attributes::reals(const DcmTagKey &tag) const
{
    std::vector<double> values;
    DcmElement *element = nullptr;
    if (!has(tag) || item_->findAndGetElement(tag, element).bad() || !element)
        return values;
    if (binary_values(element, &values))
        return values;
    values.clear();
    for (const std::string &part : split_values(text(tag))) {
        double value;
        if (!bk_number_read(part.data(), part.size(), &value)) {
            warn_bad_number(info_, tag, part);
            value = NAN;
        }
        values.push_back(value);
    }
    return values;
}

double Attributes::real(const DcmTagKey &tag) const
{
    const std::vector<double> values = reals(tag);
    return values.empty() ? NAN : values[0];
}

double Attributes::positive(const DcmTagKey &tag) const
{
    const double value = real(tag);
    if (std::isnan(value) || value > 0)
        return value;
    DcmTag named(tag);
    warn(info_, "not_positive", "%s: %g was found, a value above 0 was expected; taken as absent", named.getTagName(),
         value);
    return NAN;
}

long Attributes::integer(const DcmTagKey &tag, long fallback) const
{
    const double value = real(tag);
    if (std::isnan(value))
        return fallback;
    if (value == std::floor(value) && std::fabs(value) <= 2147483647.0)
        return static_cast<long>(value);
    warn_bad_number(info_, tag, text(tag));
    return fallback;
}

Attributes Attributes::inside(const DcmTagKey &sequence) const
{
    DcmItem *found = nullptr;
    if (item_ && item_->findAndGetSequenceItem(sequence, found, 0).bad())
        found = nullptr;
    return Attributes(found, info_);
}

Attributes Attributes::group(const DcmTagKey &sequence) const
{
    const Attributes shared = inside(DCM_SharedFunctionalGroupsSequence).inside(sequence);
    return shared.item() ? shared : inside(DCM_PerFrameFunctionalGroupsSequence).inside(sequence);
}

Attributes Attributes::frame_group(const DcmTagKey &sequence, long frame) const
{
    DcmItem *found = nullptr;
    if (item_ && item_->findAndGetSequenceItem(DCM_PerFrameFunctionalGroupsSequence, found, frame).bad())
        found = nullptr;
    return Attributes(found, info_).inside(sequence);
}

} // namespace bk
