#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Files of at most 800 lines (of tests 1200), functions of at most 80, a licence line in each source, headers that stand
# alone and may be included twice: as C17, and as C++17 where C++ or a user of the library includes them.
. "$(dirname "$0")/common.sh"
strict="-fsyntax-only -Wall -Wextra -Werror -Isrc -I. -D_POSIX_C_SOURCE=200809L"
libraries=$(pkg-config --cflags cairo libpng jansson 2>/dev/null || true)

alone() { # HEADER LANGUAGE COMPILER...
    header=$1
    language=$2
    shift 2
    # shellcheck disable=SC2086 # lists of options
    printf '#include "%s"\n#include "%s"\n' "$header" "$header" |
        "$@" $strict $libraries -x "$language" - 2>&1 | grep -m 3 -E 'error|warning' | sed "s|^|$header as $language: |" || true
}
{
    for file in $(files '*.c' '*.cc' '*.h' '*.py' '*.sh' '*.js' '*.mjs'); do
        head -n 3 "$file" | grep -q 'SPDX-License-Identifier: GPL-3.0-or-later' || echo "$file: no licence line at the top"
        limit=800
        case $file in tests/*) limit=1200 ;; esac
        lines=$(wc -l <"$file")
        [ "$lines" -le $limit ] || echo "$file: $lines lines, at most $limit were expected"
    done
    # the braces of a function stand in the first column (.clang-format)
    files '*.c' '*.cc' '*.h' | xargs awk '
        FNR == 1 { start = 0 }
        /^\{/ && before !~ /^(namespace|class|struct|extern "C")/ { start = FNR; name = before }
        { before = $0 }
        /^\}/ {
            if (start && FNR - start > 80)
                print FILENAME ":" start ": " FNR - start " lines in a function, at most 80 were expected"
            start = 0
        }'
    for header in $(files '*.h' | grep -E '^(src|phantom)/' | sed 's|^src/||'); do
        case $header in
        dicom/dicom.h) alone "$header" c "${CC:-cc}" -std=c17 -Wpedantic ;;
        dicom/*) alone "$header" c++ "${CXX:-c++}" -std=c++17 ;; # C++ only in this folder
        *) alone "$header" c "${CC:-cc}" -std=c17 -Wpedantic ;;
        esac
        case $header in
        base/* | dicom/dicom.h | app/*) alone "$header" c++ "${CXX:-c++}" -std=c++17 ;;
        esac
    done
} | verdict "files and functions of a readable size, with licence lines, and headers that stand alone"
