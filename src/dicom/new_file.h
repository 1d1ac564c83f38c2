/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A file that grows beside its target, takes its place when all is written, and goes away when it is not. */
#ifndef BK_DICOM_NEW_FILE_H
#define BK_DICOM_NEW_FILE_H

#include <cstdint>
#include <string>
#include <vector>

#include "base/status.h"

namespace bk
{

using Bytes = std::vector<uint8_t>;

class NewFile
{
  public:
    NewFile() = default;
    NewFile(const NewFile &) = delete;
    NewFile &operator=(const NewFile &) = delete;
    ~NewFile();

    /** Errors: BK_E_IO, also when what is at path is not a plain file. */
    bk_status begin(const char *path, bk_err *err);
    /** Where it grows, for those who write by name. */
    const char *name() const
    {
        return name_.c_str();
    }
    /** Behind all that is there. */
    bk_status append(const Bytes &bytes, bk_err *err);
    bk_status finish(bk_err *err);

  private:
    std::string path_, name_;
    int fd_ = -1;
};

} // namespace bk
#endif
