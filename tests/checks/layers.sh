#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# No file includes a room above its own, and each third-party library is named where it may be.
cd "$BK_SOURCE" || exit 1
bad=0
# forbid FOLDER PATTERN: no #include matching PATTERN in FOLDER
forbid() {
    found=$(grep -rnE "^#include [<\"]($2)" "$1" --include='*.[ch]' --include='*.cc')
    [ -z "$found" ] || { echo "$found"; bad=1; }
}
forbid src/base '(core|dicom|store|report|app|server|cli|phantom)/'
forbid src/core '(dicom|store|report|app|server|cli|phantom)/|stdio\.h|time\.h|unistd\.h|fcntl\.h'
forbid phantom '(core|dicom|store|report|app|server|cli)/'
forbid src/dicom '(core|store|report|app|server|cli|phantom)/'
forbid src/report '(core|dicom|store|app|server|cli|phantom)/'
forbid src/app '(server|cli)/'
only() {
    found=$(grep -rlE "^#include <$2" src phantom --include='*.[ch]' --include='*.cc' | grep -vE "$1")
    [ -z "$found" ] || { echo "$2 is included in: $found"; bad=1; }
}
only '^src/base/json\.c$' 'jansson'
only '^src/base/file\.c$' 'sha256'
only '^src/report/' 'cairo'
only '^src/report/png\.c$' 'png\.h'
only '^src/dicom/' 'dcmtk|openjpeg'
only '^src/core/num\.c$|^src/cli/(main|cmd_version)\.c$' 'gsl'
exit $bad
