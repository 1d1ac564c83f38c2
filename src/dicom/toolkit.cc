/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "dicom/toolkit.h"

#include <cstring>
#include <string>

#include "dcmtk/dcmdata/dcdict.h"
#include "dcmtk/dcmdata/dcuid.h"
#include "dcmtk/dcmjpeg/djdecode.h"
#include "dcmtk/dcmjpls/djdecode.h"
#include "dcmtk/oflog/appender.h"
#include "dcmtk/oflog/oflog.h"
#include "dcmtk/oflog/spi/logevent.h"

#include "dicom/file.h"

namespace bk
{

namespace
{

constexpr Encoding implicit_little = {false, false}, explicit_little = {true, false}, explicit_big = {true, true};

/* PS3.5 chapter 10 and annex A; uids as in PS3.6 annex A */
const Syntax syntaxes[] = {
    {"1.2.840.10008.1.2", Codec::native, EXS_LittleEndianImplicit, implicit_little, false, false, false},
    {"1.2.840.10008.1.2.1", Codec::native, EXS_LittleEndianExplicit, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.1.99", Codec::native, EXS_LittleEndianExplicit, explicit_little, true, false, false},
    {"1.2.840.10008.1.2.2", Codec::native, EXS_BigEndianExplicit, explicit_big, false, false, false},
    {"1.2.840.10008.1.2.5", Codec::rle, EXS_RLELossless, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.4.50", Codec::jpeg, EXS_JPEGProcess1, explicit_little, false, true, true},
    {"1.2.840.10008.1.2.4.51", Codec::jpeg, EXS_JPEGProcess2_4, explicit_little, false, true, true},
    {"1.2.840.10008.1.2.4.57", Codec::jpeg, EXS_JPEGProcess14, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.4.70", Codec::jpeg, EXS_JPEGProcess14SV1, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.4.80", Codec::jpeg_ls, EXS_JPEGLSLossless, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.4.81", Codec::jpeg_ls, EXS_JPEGLSLossy, explicit_little, false, false, true},
    {"1.2.840.10008.1.2.4.90", Codec::jpeg_2000, EXS_JPEG2000LosslessOnly, explicit_little, false, false, false},
    {"1.2.840.10008.1.2.4.91", Codec::jpeg_2000, EXS_JPEG2000, explicit_little, false, false, true},
};

thread_local unsigned damage_reports = 0;

/* The JPEG decoder goes on after damage, filling in what it cannot read, and only logs that it did. An invented
   piece of lumen is worse than no frame, so those reports are counted. Its other remarks are harmless. */
class DamageCounter : public dcmtk::log4cplus::Appender
{
  public:
    ~DamageCounter() override
    {
        destructorImpl();
    }
    void close() override
    {
    }

  protected:
    void append(const dcmtk::log4cplus::spi::InternalLoggingEvent &event) override
    {
        const char *text = event.getMessage().c_str();
        const bool corrupt = strncmp(text, "Corrupt JPEG data", 17) == 0 && !strstr(text, "extraneous");
        if (corrupt || strncmp(text, "Premature end", 13) == 0)
            damage_reports++;
    }
};

void quiet_the_logger()
{
    OFLog::configure(OFLogger::OFF_LOG_LEVEL);
    dcmtk::log4cplus::Logger jpeg = OFLog::getLogger("dcmtk.dcmjpeg");
    jpeg.setAdditivity(false); /* else the events also reach the root's appender, which prints */
    jpeg.setLogLevel(OFLogger::WARN_LOG_LEVEL);
    jpeg.addAppender(dcmtk::log4cplus::SharedAppenderPtr(new DamageCounter()));
}

bool start_once()
{
    quiet_the_logger();
    if (!dcmDataDict.isDictionaryLoaded())
        return false;
    DJDecoderRegistration::registerCodecs(EDC_never);
    DJLSDecoderRegistration::registerCodecs();
    return true;
}

} // namespace

bk_status start_toolkit(bk_err *err)
{
    static const bool ready = start_once();
    return ready ? BK_OK
                 : bk_fail(err, BK_E_INTERNAL, "the DICOM dictionary was not found, see DCMDICTPATH in the environment");
}

const Syntax *find_syntax(const char *uid)
{
    for (const Syntax &syntax : syntaxes)
        if (strcmp(syntax.uid, uid) == 0)
            return &syntax;
    return nullptr;
}

DamageWatch::DamageWatch()
{
    damage_reports = 0;
}

DamageWatch::~DamageWatch() = default;

bool DamageWatch::damaged() const
{
    return damage_reports > 0;
}

} // namespace bk

extern "C" const char *bk_dicom_toolkit(void)
{
    static const std::string both = std::string("DCMTK " OFFIS_DCMTK_VERSION ", OpenJPEG ") + bk::jpeg_2000_version();
    return both.c_str();
}
