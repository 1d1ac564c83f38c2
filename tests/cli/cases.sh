#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# cases: keep, list, show, import, export, remove, verify, backup; what is refused, and that it leaves what was there.
. "$(dirname "$0")/common_case.sh"
branchkeep=$BRANCHKEEP_BIN
python=/usr/bin/python3

# Ends with this code and one line that holds the text; nothing on stdout.
refused_like() { # CODE TEXT ARGUMENT...
    code=$1 text=$2
    shift 2
    got=0
    "$branchkeep" "$@" >stdout 2>stderr || got=$?
    [ "$got" = "$code" ] && [ "$(wc -l <stderr)" = 1 ] && [ ! -s stdout ] && grep -q "^branchkeep: .*$text" stderr ||
        fail "$*: code $got, $code and \"$text\" were expected: $(cat stderr stdout)"
}
# An answer that is bad news: code 1, one line, and the answer.
bad_news() { # TEXT ARGUMENT...
    text=$1
    shift
    got=0
    "$branchkeep" "$@" >answer 2>stderr || got=$?
    [ "$got" = 1 ] && [ "$(wc -l <stderr)" = 1 ] && grep -q "^branchkeep: .*$text" stderr ||
        fail "$*: code $got, 1 and \"$text\" were expected: $(cat stderr)"
}

ok phantom --seed 5 --frames 2 --out phantom
cine=$(sha256sum phantom/view1.dcm | cut -c1-64)
sed "s/\"file_sha256\": \"0*\"/\"file_sha256\": \"$cine\"/" measurement.json >m.json
ok case a.json --new --set case_id=demo --set anatomy.site=lcx_marginal --add m.json
ok case b.json --new --set case_id=other --set patient.age_y=67

# ---- documents in and out
ok cases list --data d
says '"cases": []'
ok cases import a.json --data d
holds '{"case_id": "demo", "revision": 1, "outcome": "new"}'
ok cases import a.json --data d
holds '{"case_id": "demo", "revision": 1, "outcome": "known"}'
ok cases show demo --data d
cmp -s answer a.json || fail "the document that comes out is not the one that went in"
ok case a.json --set patient.age_y=67
bad_news 'other content was found under the same case id' cases import a.json --data d
holds '"outcome": "conflict"'
ok cases import a.json --data d --based-on 1
holds '{"case_id": "demo", "revision": 2, "outcome": "added"}'
ok case a.json --set patient.age_y=68
bad_news 'other content' cases import a.json --data d --based-on 1
ok cases show demo --data d --revision 1
lacks '"age_y"'
ok cases show demo --data d
holds '"age_y": 67'
ok cases show demo --data d --history
says '"revision": 2'
ok cases import b.json --data d
ok cases list --data d
[ "$(grep -o '"case_id": "[a-z]*"' answer | tr '\n' ' ')" = '"case_id": "other" "case_id": "demo" ' ] || fail "newest first: $(cat answer)"
says '"site": "lcx_marginal"'
says '"stage": "baseline"'
says '"measured": 1'

# ---- cines
ok cases import phantom/view1.dcm --data d
says '"cines_new": 1'
ok cases import phantom/view1.dcm --data d
says '"cines_known": 1'
kept=d/cines/$(echo "$cine" | cut -c1-2)/$cine.dcm
cmp -s "$kept" phantom/view1.dcm || fail "the cine is not where it should be"
[ "$(stat -c %a "$kept" d d/cases.sqlite | tr '\n' ' ')" = "600 700 600 " ] || fail "others may read the folder"
ok cases list --data d
says '"cines": 1'
head -c 3000 phantom/view1.dcm >cut.dcm
refused_like 3 '' cases import cut.dcm --data d
ok cases verify --data d
says '"sound": true'
says '"unlisted_files": 0'

# ---- a case as an archive: any tar program reads it, and its sums are right
ok cases export demo demo.tar --data d
refused 2 "demo.tar exists, the name of a new file was expected" cases export demo demo.tar --data d
refused 1 'case "nobody" was not found, the id of a kept case was expected' cases export nobody n.tar --data d
[ ! -e n.tar ] || fail "a file was left behind"
mkdir out
tar -xf demo.tar -C out
[ "$(cd out && find . -type f | sort | tr '\n' ' ')" = "./MANIFEST.json ./cases/1/1.json ./cases/1/2.json ./cines/$cine.dcm " ] ||
    fail "members: $(cd out && find . -type f)"
(cd out && sed -n 's/^ *"name": "\(.*\)",/\1/p; s/^ *"sha256": "\(.*\)"/\1/p' MANIFEST.json | paste - - | awk '{ print $2 "  " $1 }' | sha256sum -c --quiet) ||
    fail "a sum in the manifest is wrong"
ok cases import demo.tar --data e
holds '{"case_id": "demo", "revision": 2, "outcome": "new"}'
says '"cines_new": 1'
"$branchkeep" cases show demo --data e --history | grep sha256 >e.sums
"$branchkeep" cases show demo --data d --history | grep sha256 | cmp -s - e.sums || fail "the revisions differ"
ok cases import demo.tar --data e
holds '"outcome": "known"'
ok cases show demo --data d
cp answer next.json
ok case next.json --set patient.weight_kg=80
ok cases import next.json --data d --based-on 2
ok cases export demo longer.tar --data d
ok cases import longer.tar --data e
holds '{"case_id": "demo", "revision": 3, "outcome": "added"}'
ok cases import demo.tar --data e
holds '{"case_id": "demo", "revision": 3, "outcome": "known"}'
ok case b.json --set case_id=demo
ok cases import b.json --data f
bad_news 'other content' cases import demo.tar --data f
holds '{"case_id": "demo", "revision": 1, "outcome": "conflict"}'
[ -z "$(find f -name '*.dcm' -o -name '.*-*')" ] || fail "something of a conflicting archive was kept"
ok cases verify --data f
says '"cines": 0'

# ---- backup and restore
ok cases backup all.tar --data d
ok cases import all.tar --data g
ok cases list --data g
cp answer list.g
ok cases list --data d
cmp -s answer list.g || fail "the restored list is another"
ok cases verify --data g
says '"sound": true'
says '"cines": 1'
refused_like 2 'an empty folder was expected for a backup' cases import all.tar --data d
tar -xOf all.tar cases.sqlite >bare.sqlite
"$branchkeep" cases verify --data d >/dev/null || fail "backup harmed the store"

# ---- removal
ok cases remove demo --data g
ok cases list --data g
lacks '"demo"'
ok cases list --all --data g
holds '"removed_at"'
refused 1 'case "demo" has been removed, a case on the list was expected' cases show demo --data g
ok cases remove demo --undo --data g
ok cases show demo --data g
ok cases remove demo --for-good --data g
says '{"case_id": "demo", "case": "destroyed", "cines_destroyed": 1}'
[ -z "$(find g -name '*.dcm')" ] || fail "a cine of a destroyed case is still there"
refused 1 'case "demo" was not found, the id of a kept case was expected' cases show demo --data g

# ---- damage is reported, never served
ok cases import demo.tar --data g
gcine=g/cines/$(echo "$cine" | cut -c1-2)/$cine.dcm
printf x | dd of="$gcine" bs=1 seek=200000 conv=notrunc 2>/dev/null
bad_news 'damage was found' cases verify --data g
says '"sound": false'
holds 'is broken: its content has another SHA-256 than its name'
refused_like 4 'is broken' cases export demo broken.tar --data g
[ ! -e broken.tar ] || fail "a broken cine was exported"
ok cases import phantom/view1.dcm --data g
ok cases verify --data g
rm "$gcine"
bad_news 'damage' cases verify --data g
holds 'is missing'

# ---- folders and files that cannot be used
echo text >plain
refused 4 "plain is a file, a folder was expected" cases list --data plain
refused_like 4 'plain/x cannot be made\|plain is a file' cases list --data plain/x
mkdir junk
head -c 20000 /dev/urandom >junk/cases.sqlite
cp junk/cases.sqlite before
refused 4 "junk/cases.sqlite is no database, a database of branchkeep was expected" cases list --data junk
cmp -s before junk/cases.sqlite || fail "a strange file was changed"
cp -r d damaged
dd if=/dev/zero of=damaged/cases.sqlite bs=4096 seek=1 count=20 conv=notrunc 2>/dev/null
refused_like 4 'is damaged' cases show demo --data damaged
mkdir -p folder/cases.sqlite
refused_like 4 'is no plain file' cases list --data folder
(unset HOME XDG_DATA_HOME && refused_like 2 'no home folder was found, --data DIR was expected' cases list)
XDG_DATA_HOME=$work/xdg "$branchkeep" cases list >/dev/null && [ -f xdg/branchkeep/cases.sqlite ] || fail "XDG_DATA_HOME was passed over"

# read-only: as another user, since root may write anywhere
if [ "$(id -u)" = 0 ] && command -v setpriv >/dev/null; then
    cp -r d readonly
    chmod -R a+rX,a-w readonly
    chmod a+rx "$work"
    got=0
    setpriv --reuid 65534 --regid 65534 --clear-groups "$branchkeep" cases import b.json --data readonly >stdout 2>stderr || got=$?
    [ "$got" = 4 ] && [ "$(wc -l <stderr)" = 1 ] && grep -q 'readonly/cases.sqlite cannot be' stderr ||
        fail "read-only: code $got: $(cat stderr)"
else
    echo "left out: a read-only folder (needs root and setpriv)"
fi

# a full disk: a small file system of its own
mkdir small
if [ "$(id -u)" = 0 ] && mount -t tmpfs -o size=900k,mode=700 tmpfs small 2>/dev/null; then
    trap 'umount "$work/small" 2>/dev/null || true; rm -rf "$work"' EXIT
    ok cases import a.json --data small
    ok cases show demo --data small
    cp answer before
    refused_like 4 'No space left\|the disk is full' cases import phantom/view1.dcm --data small
    refused_like 4 'No space left' cases backup small/b.tar --data d
    $python - <<'P'
import json
doc = json.load(open("a.json")); doc["my_notes"] = "x" * 900000
json.dump(doc, open("large.json", "w"))
P
    refused_like 4 'the disk is full' cases import large.json --data small --based-on 1
    ok cases show demo --data small
    cmp -s answer before || fail "a full disk changed what was there"
    ok cases verify --data small
    says '"sound": true'
    says '"revisions": 1'
    says '"unlisted_files": 0'
    [ -z "$(find small -name '.new-*' -o -name '.work-*')" ] || fail "a half-made copy was left on the full disk"
    refused_like 4 'No space left' cases export demo small/demo.tar --data d
    [ -z "$(find small -name 'demo*')" ] || fail "half an archive was left on the full disk"
    umount small
else
    echo "left out: a full disk (needs root and the right to mount)"
fi

# ---- words and options
refused 2 'no action was found, list, show, import, export, remove, verify or backup was expected' cases
refused 2 'cases "lst" is unknown, the nearest known one is "list"' cases lst
refused 2 'option --undo was found, cases list [--all] was expected' cases list --undo
refused 2 '1 words were found, cases show ID [--revision N | --history] was expected' cases show
refused_like 2 'a whole number from 1' cases show demo --revision x --data d
refused 1 'revision 9 of case "demo" was not found, 1 to 3 was expected' cases show demo --revision 9 --data d
refused_like 3 '' cases import "$BK_SOURCE/README.md" --data d
: >empty
refused_like 3 '' cases import empty --data d
refused_like 4 'cannot be read' cases import none --data d
echo '{"patient": {"age_y": 400}}' >bad.json
refused_like 3 'patient.age_y: 400 was found' cases import bad.json --data d
# an id with quotes, slashes and dots is only a text
printf '{"case_id": "../../x'"'"'; DROP TABLE cases"}' >odd.json
ok cases import odd.json --data d
ok cases export "../../x'; DROP TABLE cases" odd.tar --data d
ok cases import odd.tar --data h
ok cases verify --data d
says '"sound": true'
