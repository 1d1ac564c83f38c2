#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A room includes only the rooms below it, siblings do not see one another, and a third-party header is named in the one
# file (or room) that is its home.
. "$(dirname "$0")/common.sh"

files '*.c' '*.cc' '*.h' | grep -E '^(src|phantom)/' | xargs grep -nE '^ *# *include' /dev/null | awk '
BEGIN {
    # room: the rooms it may see
    may["base"] = "base"
    may["core"] = "base core"
    may["phantom"] = "base phantom"
    may["dicom"] = "base dicom"
    may["store"] = "base store"
    may["report"] = "base core report"
    may["app"] = "base core phantom dicom store report app"
    may["server"] = "base app server"
    may["cli"] = "base app server cli"
    # beginning of a header that is not ours: its home
    home["jansson.h"] = "src/base/json.c"
    home["sha256.h"] = "src/base/file.c"
    home["gsl/"] = "src/core/num.c"
    home["dcmtk/"] = "src/dicom/"
    home["openjpeg"] = "src/dicom/jpeg2000.cc"
    home["zlib.h"] = "src/dicom/inflate.cc"
    home["cairo"] = "src/report/"
    home["png.h"] = "src/report/png.c"
    home["libpng16/"] = "src/report/png.c"
    home["sqlite3.h"] = "src/store/"
    home["archive.h"] = "src/store/"
    home["archive_entry.h"] = "src/store/"
    home["microhttpd.h"] = "src/server/"
    home["locale.h"] = "src/base/number.c"
    # the error handler is turned off once, at the start of the program
    also["gsl/gsl_errno.h"] = "src/cli/main.c"
}
# these print the versions of the libraries and the field tables, so they name them
/^src\/cli\/(cmd_version|cmd_fields)\.c:/ { next }
{
    file = $0; sub(/:.*/, "", file)
    line = $0; sub(/^[^:]*:/, "", line); sub(/:.*/, "", line)
    header = $0; sub(/^[^<"]*[<"]/, "", header); sub(/[>"].*/, "", header)
    quoted = $0 ~ /include *"/ && header !~ /^dcmtk\//
    room = file; sub(/^src\//, "", room); sub(/\/.*/, "", room)
    if (!(room in may)) { print file ":" line ": room \"" room "\" is not in the list of rooms"; next }
    if (quoted) {
        target = header; sub(/\/.*/, "", target)
        if (header !~ /\//) target = room # beside it
        if (header ~ /^evidence/) target = "base"
        if (index(" " may[room] " ", " " target " ") == 0)
            print file ":" line ": " room " includes \"" header "\", it may see: " may[room]
        next
    }
    for (start in home)
        if (index(header, start) == 1 && index(file, home[start]) != 1 && also[header] != file)
            print file ":" line ": <" header "> belongs in " home[start]
}' | verdict "includes that go down the rooms only (docs/conventions.md)"
