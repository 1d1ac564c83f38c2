#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# A faulty evidence row stops the build with file:line and the reason.
#   evidence_tables.sh GEN_EVIDENCE
set -eu
generator=$1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
head='id,topic,name,value,unit,text,source,standing,checked'
good='a_1,t,n,1,mm,text,source,seen,2026-11-25'

refused() { # EXPECTED LINE
    printf '%s\n' "$head" "$good" "$1" >t.csv
    if "$generator" out.c t.csv 2>stderr; then
        echo "FAIL: let through: $1"
        exit 1
    fi
    [ "$(cat stderr)" = "$2" ] || { echo "FAIL: \"$(cat stderr)\", \"$2\" was expected"; exit 1; }
}
printf '%s\n' "$head" "$good" >t.csv
"$generator" out.c t.csv
grep -q '.id = "a_1"' out.c
refused 'b,t,n,1,,text,source,seen,2026-11-25' 't.csv:3: the unit is empty'
refused 'b,t,n,1,mm,text,,seen,2026-11-25' 't.csv:3: the source is empty'
refused 'b,t,n,1,mm,text,source,sure,2026-11-25' 't.csv:3: standing "sure" was found, seen, memory or common practice was expected'
refused 'a_1,t,n,1,mm,text,source,seen,2026-11-25' 't.csv:3: id a_1 was given before, at t.csv:2'
refused 'b,t,n,1,mm' 't.csv:3: 5 cells were found, 9 as in the first line were expected'
refused 'b,t,n,1,mm,"text,source,seen,2026-11-25' 't.csv:3: line 3: the text ends inside quotes, a closing quote was expected'
printf '%s\n' 'id,topic' >t.csv
! "$generator" out.c t.csv 2>stderr
[ "$(cat stderr)" = 't.csv:1: column "name" is missing' ]
