/* SPDX-License-Identifier: GPL-3.0-or-later */
/* When the run was taken, when each frame was, and which frames follow an R wave. */
#include "dicom/attributes.h"

#include <cmath>
#include <cstdio>
#include <ctime>

#include "dcmtk/dcmdata/dcsequen.h"
#include "dcmtk/dcmdata/dcvrat.h"

#include "base/number.h"
#include "dicom/file.h"

namespace bk
{

namespace
{

struct Moment {
    int year, month, day, hour, minute;
    double second;
};

bool digits_only(const std::string &text)
{
    return !text.empty() && text.find_first_not_of("0123456789") == std::string::npos;
}

/* "19970424", or as old files have it "1997.04.24" (PS3.5 6.2, the spelling of ACR-NEMA), or with dashes. */
bool read_date(const std::string &text, Moment *out, bk_dicom_info *info)
{
    std::string plain = text;
    if (text.size() == 10 && text[4] == text[7] && (text[4] == '.' || text[4] == '-' || text[4] == '/')) {
        plain = text.substr(0, 4) + text.substr(5, 2) + text.substr(8, 2);
        warn(info, "date_spelling", "dates are spelled with %s, as before 1994; read all the same",
             text[4] == '.' ? "points" : "separators");
    }
    if (plain.size() != 8 || !digits_only(plain))
        return false;
    out->year = std::stoi(plain.substr(0, 4));
    out->month = std::stoi(plain.substr(4, 2));
    out->day = std::stoi(plain.substr(6, 2));
    static const int month_days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (out->month < 1 || out->month > 12 || out->day < 1)
        return false;
    const bool leap = (out->year % 4 == 0 && out->year % 100 != 0) || out->year % 400 == 0;
    return out->day <= month_days[out->month - 1] + (leap && out->month == 2 ? 1 : 0);
}

/* "hhmmss.ffffff", its seconds and minutes optional, or as old files have it "hh:mm:ss". */
bool read_clock(const std::string &text, Moment *out, bk_dicom_info *info)
{
    std::string plain;
    for (const char c : text)
        if (c != ':')
            plain += c;
    if (plain.size() != text.size())
        warn(info, "date_spelling", "times are spelled with colons, as before 1994; read all the same");
    const std::string whole = plain.substr(0, plain.find('.'));
    if (!digits_only(whole) || whole.size() > 6 || whole.size() % 2 != 0)
        return false;
    out->hour = std::stoi(whole.substr(0, 2));
    out->minute = whole.size() >= 4 ? std::stoi(whole.substr(2, 2)) : 0;
    out->second = 0;
    if (whole.size() == 6 && !bk_number_read(plain.data() + 4, plain.size() - 4, &out->second))
        return false;
    return out->hour < 24 && out->minute < 60 && out->second < 61; /* 60: a leap second */
}

/* DT: date and clock in one, an offset from UTC (&ZZXX) left out */
bool read_date_time(const std::string &text, Moment *out, bk_dicom_info *info)
{
    const std::string local = text.substr(0, text.find_first_of("+-"));
    return local.size() >= 10 && read_date(local.substr(0, 8), out, info) && read_clock(local.substr(8), out, info);
}

bool read_pair(const Attributes &in, const DcmTagKey &date, const DcmTagKey &time, Moment *out, bk_dicom_info *info)
{
    return in.has(date) && in.has(time) && read_date(in.text(date, 0), out, info) &&
           read_clock(in.text(time, 0), out, info);
}

void read_acquired_at(const Attributes &in, bk_dicom_info *info)
{
    Moment m;
    const bool known = read_pair(in, DCM_AcquisitionDate, DCM_AcquisitionTime, &m, info) ||
                       read_date_time(in.text(DCM_AcquisitionDateTime, 0), &m, info) ||
                       read_pair(in, DCM_ContentDate, DCM_ContentTime, &m, info);
    if (known)
        snprintf(info->acquired_at, sizeof info->acquired_at, "%04d-%02d-%02dT%02d:%02d:%02d", m.year, m.month, m.day,
                 m.hour, m.minute, static_cast<int>(m.second));
    /* the other dates are not used, but their spelling tells how old the writer was */
    for (const DcmTagKey &tag : {DCM_StudyDate, DCM_SeriesDate, DCM_ContentDate, DCM_AcquisitionDate})
        read_date(in.text(tag, 0), &m, info);
}

/* One time a frame from the increments of (0018,1065), the first of which is 0. */
bool times_from_vector(const Attributes &in, bk_dicom *file)
{
    const std::vector<double> steps = in.reals(DCM_FrameTimeVector);
    const size_t n = static_cast<size_t>(file->info.frames);
    bool usable = steps.size() >= n;
    double sum = 0;
    file->times_ms.clear();
    for (size_t i = 0; usable && i < n; i++) {
        usable = i == 0 || steps[i] > 0;
        sum += i == 0 ? 0 : steps[i];
        file->times_ms.push_back(sum);
    }
    if (!usable) {
        file->times_ms.clear();
        warn(&file->info, "frame_times", "the frame time vector has %zu usable steps for %zu frames; not used",
             steps.size(), n);
    }
    return usable;
}

void times_from_step(double step_ms, bk_dicom *file)
{
    file->info.frame_time_ms = step_ms;
    for (int32_t k = 0; k < file->info.frames; k++)
        file->times_ms.push_back(k * step_ms);
}

/* Milliseconds since some day long ago, for differences */
double milliseconds(const Moment &m)
{
    struct tm broken = {};
    broken.tm_year = m.year - 1900;
    broken.tm_mon = m.month - 1;
    broken.tm_mday = m.day;
    broken.tm_hour = m.hour;
    broken.tm_min = m.minute;
    return (static_cast<double>(timegm(&broken)) + m.second) * 1000;
}

/* Enhanced objects may date every frame (0020,9111)>(0018,9074). */
bool times_from_frame_dates(const Attributes &in, bk_dicom *file)
{
    DcmSequenceOfItems *frames = nullptr;
    if (!in.item() || in.item()->findAndGetSequence(DCM_PerFrameFunctionalGroupsSequence, frames).bad() || !frames)
        return false;
    std::vector<double> times;
    DcmObject *object = nullptr;
    while (times.size() < static_cast<size_t>(file->info.frames) && (object = frames->nextInContainer(object))) {
        Moment m;
        const Attributes item(static_cast<DcmItem *>(object), &file->info);
        const std::string text = item.inside(DCM_FrameContentSequence).text(DCM_FrameAcquisitionDateTime, 0);
        if (!read_date_time(text, &m, &file->info))
            return false;
        times.push_back(milliseconds(m));
        if (times.size() > 1 && !(times.back() > times[times.size() - 2]))
            return false;
    }
    if (times.size() != static_cast<size_t>(file->info.frames))
        return false;
    for (const double t : times)
        file->times_ms.push_back(t - times[0]);
    return true;
}

/* The attribute that (0028,0009) names as the one that counts. */
DcmTagKey frame_increment(const Attributes &in)
{
    DcmElement *element = nullptr;
    DcmTagKey pointer = DCM_UndefinedTagKey;
    if (!in.has(DCM_FrameIncrementPointer) || in.item()->findAndGetElement(DCM_FrameIncrementPointer, element).bad())
        return pointer;
    DcmAttributeTag *tag = dynamic_cast<DcmAttributeTag *>(element);
    if (tag && tag->getTagVal(pointer, 0).bad())
        pointer = DCM_UndefinedTagKey;
    return pointer;
}

void read_frame_times(const Attributes &in, bk_dicom *file)
{
    bk_dicom_info *info = &file->info;
    info->frame_time_ms = NAN;
    const bool vector_named = frame_increment(in) == DCM_FrameTimeVector;
    const double step_ms = in.has(DCM_FrameTime) ? in.positive(DCM_FrameTime) : NAN;
    if ((vector_named || std::isnan(step_ms)) && in.has(DCM_FrameTimeVector) && times_from_vector(in, file))
        return;
    if (!std::isnan(step_ms)) {
        times_from_step(step_ms, file);
        return;
    }
    if (times_from_frame_dates(in, file))
        return;
    const double rate = in.has(DCM_CineRate) ? in.positive(DCM_CineRate) : NAN;
    if (std::isnan(rate))
        return;
    warn(info, "cine_rate", "no frame time was found; computed from the cine rate of %g frames a second", rate);
    times_from_step(1000 / rate, file);
}

void read_r_waves(const Attributes &in, bk_dicom *file)
{
    for (const double wave : in.reals(DCM_RWavePointer)) {
        if (wave >= 1 && wave <= file->form.declared_frames)
            file->r_waves.push_back(static_cast<int32_t>(wave));
        else
            warn(&file->info, "r_wave", "an R wave at frame %g of %d was found; left out", wave,
                 file->form.declared_frames);
    }
}

} // namespace

void describe_times(DcmItem *dataset, bk_dicom *file)
{
    const Attributes in(dataset, &file->info);
    read_acquired_at(in, &file->info);
    read_frame_times(in, file);
    read_r_waves(in, file);
    file->info.frame_times_n = file->times_ms.size();
    file->info.r_waves_n = file->r_waves.size();
}

} // namespace bk
