#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Files of at most 800 lines, functions of at most 80, a licence line in each, headers that stand alone.
cd "$BK_SOURCE" || exit 1
bad=0
for file in $(find src phantom tools tests -name '*.[ch]' -o -name '*.cc' | sort); do
    head -n 3 "$file" | grep -q 'SPDX-License-Identifier: GPL-3.0-or-later' || { echo "$file has no licence line"; bad=1; }
    [ "$(wc -l <"$file")" -le 800 ] || case $file in tests/*) true ;; *) false ;; esac || { echo "$file is longer than 800 lines"; bad=1; }
    awk -v file="$file" '/^\{/ && before !~ /^(namespace|class|struct)/ { start = FNR } { before = $0 } /^\}/ { if (start && FNR - start > 80) { print file ":" start ": a function of " FNR - start " lines"; bad = 1 } start = 0 } END { exit bad }' "$file" || bad=1
done
for header in $(find src phantom -name '*.h' ! -path 'src/dicom/*' | sort) src/dicom/dicom.h; do
    echo "#include \"${header#src/}\"" | ${CC:-cc} -std=c17 -D_POSIX_C_SOURCE=200809L -Wall -Wextra -Werror -Isrc -I. $(pkg-config --cflags cairo) -fsyntax-only -x c - || { echo "$header does not stand alone"; bad=1; }
done
exit $bad
