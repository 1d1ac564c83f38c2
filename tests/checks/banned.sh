#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Calls that have a better one here; "allow: reason" in the line lets one stand.
cd "$BK_SOURCE" || exit 1
found=$(grep -rnwE '(strcpy|strcat|sprintf|vsprintf|gets|strtok|sscanf|atoi|atof|strtol|strtod|setlocale|rand|system|popen|alloca) *\(' \
    src phantom --include='*.[ch]' --include='*.cc' | grep -v 'allow: ')
[ -z "$found" ] || { echo "$found"; exit 1; }
