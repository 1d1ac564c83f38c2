#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# Stock lists from outside: the built-in ones, a lab's own, faulty rows; what ask devices makes of them; the guide.
. "$(dirname "$0")/common_case.sh"

# ---- the lists themselves ----
ok shelf
says '"name": "default"'
lacks '"standing": "invented"'
ok shelf demo
holds '"standing": "invented"'
refused 2 'stock list "dmo" is unknown, the nearest known one is "demo"; a file ends in .csv' shelf dmo
refused 4 'none.csv cannot be read: No such file or directory' shelf none.csv
cat >own.csv <<'CSV'
kind,id,class,nominal_mm,length_mm,maximum_mm,nominal_atm,rated_atm,table,front_mm,distal_mm,proximal_mm,inner_mm,french
stent,short,medium,3.0,12 18,4.0,,,,,,,,
stent,long,medium,3.0,12 28,3.5,10,16,9:2.95 12:3.05 16:3.15,,,,,
balloon,pot,non,3.5 3.75,6 8 12,,12,20,,,,,,
balloon,nc_25,non,2.5,12,,12,18,8:2.45 12:2.50 18:2.58,0.9,0.8,0.6,,
guide,guide_6,,,,,,,,,,,1.80,6
CSV
ok shelf own.csv
says '"n": 5'
sed 's/guide,guide_6,,,,,,,,,,,1.80,6/guide,guide_6,,,,,,,,,,,1.80/' own.csv >bad.csv
refused 3 'bad.csv: line 6: 13 cells were found, 14 as in the first line were expected' shelf bad.csv
sed 's/12:3.05 16:3.15/12:3.05 11:3.15/' own.csv >bad.csv
refused 3 'bad.csv: line 3: table 11:3.15 was found behind 12:3.05, rising pressures and diameters were expected' shelf bad.csv

# ---- what it makes of a case: the worked example, stent 3.0 x 24, POT 3.75 ----
cat >ten.json <<'JSON'
{"anatomy": {"segments": {
   "proximal": {"reference_mm": 3.73, "mld_mm": 1.2, "lesion_length_mm": 5},
   "distal": {"reference_mm": 3.0, "mld_mm": 1.1, "lesion_length_mm": 12},
   "side": {"reference_mm": 2.5, "mld_mm": 0.8, "lesion_length_mm": 6}},
  "angles": {"distal_side_deg": 50}}}
JSON
refused 3 'bad.csv: line 3: table 11:3.15 was found behind 12:3.05, rising pressures and diameters were expected' ask devices ten.json --shelf bad.csv
ok ask devices ten.json --shelf own.csv
item_says main_stent '"id": "long"'
item_says main_stent '"length_mm": 28'
# by its own table 2.95 at 9 atm, 3.05 at 12: 3.0 half-way
item_says main_stent '"pressure_atm": 10.5'
# 3.75 above its label 3.5: said aloud, since the only other one is too short
holds 'Main stent: the round balloon it must bear, 3.75 mm, is above its label maximum of 3.50 mm'
item_says pot_balloon '"length_mm": 8'
item_says pot_balloon '"pressure_atm": null'
item_says side_balloon '"pressure_atm": 12'
says '"french": 6'
holds '"value": "entered"'

# the generic list: no table, no pressure; a name that is not there: nothing matched, said
ok ask devices ten.json
item_says main_stent '"pressure_atm": null'
holds '"why": "needs the compliance table of the balloon or stent taken; the list holds none"'
holds 'The stock list is the generic one'
ok ask devices ten.json --what-if shelf=ours
item_says main_stent '"shelf_match": []'
holds '"why": "no stock list of this name is built in (default, demo); a file is given with --shelf: nothing is matched, guide fit is by generic profiles"'
ok ask devices ten.json --what-if shelf=demo
item_says main_stent '"pressure_atm": 10'
item_says pot_balloon '"length_at_most_mm": 9.6'

# a server or a report with a faulty list does not start
refused 3 'bad.csv: line 3: table 11:3.15 was found behind 12:3.05, rising pressures and diameters were expected' serve --port 0 --data d --shelf bad.csv
[ ! -e d ] || fail "a refused server made its folder"
refused 3 'bad.csv: line 3: table 11:3.15 was found behind 12:3.05, rising pressures and diameters were expected' report ten.json --html r.html --shelf bad.csv
[ ! -e r.html ] || fail "a report was written with a faulty list"
# `serve --shelf` puts the lab's list behind the page's answers
mkdir kept
"$BRANCHKEEP_BIN" serve --port 0 --data kept --shelf own.csv >address &
server=$!
for _ in 1 2 3 4 5 6 7 8 9 10; do
    [ -s address ] && break
    sleep 0.3
done
/usr/bin/python3 - "$(cat address)" ten.json <<'P' >answer || fail "the server did not answer"
import http.client, sys, urllib.parse
address = urllib.parse.urlparse(sys.argv[1])
token = address.fragment.split("=")[1]
web = http.client.HTTPConnection(address.netloc)
head = {"Origin": "http://" + address.netloc, "Content-Type": "application/json"}
web.request("POST", "/session", '{"token":"%s"}' % token, head)
reply = web.getresponse()
reply.read()
head["Cookie"] = reply.getheader("Set-Cookie", "").split(";")[0]
web.request("POST", "/api/ask/devices", open(sys.argv[2]).read(), head)
reply = web.getresponse()
print(reply.read().decode())
sys.exit(reply.status != 200)
P
kill "$server"
wait "$server" || true
item_says main_stent '"id": "long"'

# ---- the guide: two modern balloons in 6 F are never a no; in 5 F they are ----
ok ask devices ten.json
verdict() { # MOMENT
    awk -v m="\"moment\": \"$1\"" 'index($0, m) { on = 1 } on && /"verdict":/ { print; exit }' answer | tr -d ' ,'
}
[ "$(verdict kissing)" = '"verdict":"tight"' ] || fail "kissing: $(verdict kissing)"
holds 'published practice (6 F); rigid circles ask for 1.85 mm: depends on the profiles'
ok ask devices ten.json --what-if decision.guide_french=5
says '"decided_french": 5'
holds 'kissing: does not go through the 5 F guide in use (needs 1.85 mm of 1.47)'
ok ask devices ten.json --what-if decision.guide_french=6
lacks 'guide in use'
refused 3 'decision.guide_french: 9 was found, 5 to 8 was expected' ask devices ten.json --what-if decision.guide_french=9
ok ask devices ten.json --what-if decision.strategy=dk_crush
holds '"moment": "side-branch stent while the main stent waits in the main vessel"'
holds '"wire_needed_cm": 265'

# the laws beside the reference that sizes POT: fractal and HK 3.73 and 3.72 mm agree with 3.75, not with 4.5
ok ask devices ten.json --what-if anatomy.segments.proximal.reference_mm=4.5
item pot_balloon | grep -q '"id": "law_fractal", "target_mm": 3.73, "diameter_mm": 3.75, "agrees": "no"' || fail "no law beside POT: $(item pot_balloon)"

# ---- platform, imaging, calcium, left main ----
ok ask devices ten.json --what-if anatomy.segments.proximal.reference_mm=5.2
holds 'is above the typical label maximum of its class (from memory, check the label) 4.75 mm'
ok ask devices ten.json --what-if anatomy.site=left_main
# 3.75 over a 3.0 stent: 0.75 x 2.2 mm
item_says main_stent '"lengthening_mm": 1.7'
holds '"id": "imaging_left_main"'
holds '"id": "imaging_true_bifurcation"'
# areas of circles 3.10 and 3.80 mm across: 7.548 and 11.341 mm2; lumen up to 3.25, vessel down to 3.75
ok ask devices ten.json --what-if 'imaging=[{"mode":"oct","stage":"baseline","limb":"distal","reference_area_mm2":7.548,"vessel_area_mm2":11.341,"calcium_score":4}]'
item_says main_stent '"size_by_lumen_mm": 3.25'
item_says main_stent '"size_by_vessel_mm": 3.75'
item_says main_stent '"agrees": "no"'
item_says main_stent '"used": "angiography"'
lacks '"id": "imaging_true_bifurcation"'
awk '/"id": "calcium_oct"/ { on = 1 } on && /"met"/ { print; exit }' answer | grep -q '"met": "yes"' || fail "OCT score 4 is not met"
ok ask devices ten.json --what-if decision.strategy=tap
# side lesion 6 mm and 2 mm of protrusion
item_says side_stent '"length_mm": 8'
