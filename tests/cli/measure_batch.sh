#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# measure --batch: one row per input in its order, failed ones with their reason; the numbers of measure itself; the same
# bytes for any number of processes; one clear line for a list that is none.
. "$(dirname "$0")/common.sh"
need_python
mkdir "$work/data" "$work/data/a, b"
for seed in 1 2 3; do
    "$BRANCHKEEP_BIN" phantom --seed $seed --out "$work/data/p$seed" >/dev/null
done
cp "$work/data/p2/view1.dcm" "$work/data/a, b/v \"2\".dcm"
head -c 3000 "$work/data/p1/view1.dcm" >"$work/data/cut.dcm"
echo nothing >"$work/data/x.dcm"
$python - "$work/data" <<'P'
import csv, json, sys
data = sys.argv[1]
def clicks(seed):
    c = json.load(open("%s/p%d/truth.json" % (data, seed)))["views"][0]["clicks"]
    return ["%.1f" % v for n in ("proximal", "distal", "side") for v in c[n]]
names = ["file", "frame"] + [n + "_" + a for n in ("proximal", "distal", "side") for a in "xy"]
rows = [["p1/view1.dcm", 1] + clicks(1), ["gone.dcm", 1] + clicks(1), ['a, b/v "2".dcm', 1] + clicks(2),
        ["x.dcm", 1] + clicks(1), ["cut.dcm", 1] + clicks(1), ["p3/view1.dcm", 1] + clicks(3), ["p3/view1.dcm", 2] + clicks(3),
        ["p1/view1.dcm", 1, -5, 1, 2, 3, 4, 5], ["p1/view1.dcm", 1, 20, 490, 60, 500, 40, 440], ["p1/view1.dcm", 1] + clicks(1)]
def write(name, rows, names=names):
    csv.writer(open("%s/%s" % (data, name), "w", newline="")).writerows([names] + rows)
write("list.csv", rows)
write("good.csv", [rows[0], rows[2]])
write("scale.csv", [r + [s] for r, s in ((rows[0], "0.2"), (rows[0], ""))], names + ["mm_per_px"])
# columns in another order
write("order.csv", [[r[1]] + r[2:] + [r[0]] for r in (rows[0], rows[2])], names[1:] + ["file"])
P
for jobs in 1 2 4; do
    got=0
    "$BRANCHKEEP_BIN" measure --batch "$work/data/list.csv" --jobs $jobs >"$work/$jobs.csv" 2>"$work/e" || got=$?
    [ $got = 1 ] && [ "$(cat "$work/e")" = "branchkeep: 6 of 10 rows could not be measured, column reason says why" ] ||
        { echo "FAIL: code $got: $(cat "$work/e")"; exit 1; }
done
cmp "$work/1.csv" "$work/2.csv"
cmp "$work/1.csv" "$work/4.csv"
(cd "$work/data" && "$BRANCHKEEP_BIN" measure --batch list.csv >"$work/here.csv" 2>/dev/null) || true
sed "s|$work/data/||g" "$work/1.csv" | cmp - "$work/here.csv"
"$BRANCHKEEP_BIN" measure --batch "$work/data/good.csv" >"$work/good.csv"
"$BRANCHKEEP_BIN" measure --batch "$work/data/order.csv" | cmp - "$work/good.csv"
"$BRANCHKEEP_BIN" measure --batch "$work/data/scale.csv" --mm-per-px 0.21 >"$work/scale.csv"

$python - "$work" "$BRANCHKEEP_BIN" <<'P'
import csv, json, subprocess, sys
work, program = sys.argv[1:]
text = open(work + "/1.csv", newline="").read()
rows = list(csv.DictReader(text.splitlines(keepends=True)))
asked = list(csv.DictReader(open(work + "/data/list.csv", newline="")))
assert [(r["file"], r["frame"]) for r in rows] == [(a["file"], a["frame"]) for a in asked]
assert [r["status"] for r in rows] == ["ok", "failed", "ok", "failed", "failed", "ok", "failed", "failed", "failed", "ok"]
for r in rows:
    assert (r["status"] == "ok") == (r["reason"] == ""), r
    assert r["status"] == "ok" or not any(v for k, v in r.items() if k not in ("file", "frame", "status", "reason")), r
words = ["", "No such file", "", "DICOM", "end", "", "1 to 1", "inside", "no lumen", ""]
for r, w in zip(rows, words):
    assert w in r["reason"], (r["reason"], w)
assert list(rows[0].values()) == list(rows[9].values())
for r, a in zip(rows, asked):
    if r["status"] != "ok":
        continue
    m = json.loads(subprocess.check_output([program, "measure", work + "/data/" + a["file"], "--frame", a["frame"]] + [
        w for n in ("proximal", "distal", "side") for w in ("--" + n, a[n + "_x"] + "," + a[n + "_y"])]))
    def same(cell, value):
        assert (cell == "") == (value is None) and (value is None or float(cell) == value), (cell, value)
    for n, s in m["segments"].items():
        for key in ("reference_mm", "mld_mm", "stenosis_pct", "lesion_length_mm", "length_mm"):
            q = s[key] or {"value": None, "sd": None}
            same(r["%s_%s" % (n, key)], q["value"])
            same(r["%s_%s_sd" % (n, key)], q["sd"])
    for key, q in m["angles"].items():
        same(r[key], q["value"])
        same(r[key + "_sd"], q["sd"])
    same(r["mm_per_px"], m["calibration"]["mm_per_px"])
    same(r["calibration_sd_pct"], m["calibration"]["sd_pct"])
    assert r["medina"] == m["medina"] and r["fit_mode"] == m["fit"]["mode"]
    assert r["warnings"].split() == [w["code"] for w in m["warnings"]]
scale = list(csv.DictReader(open(work + "/scale.csv", newline="")))
assert [float(r["mm_per_px"]) for r in scale] == [0.2, 0.21]
P

# lists that are none: one line that names the list and the line, and nothing is measured
head='file,frame,proximal_x,proximal_y,distal_x,distal_y,side_x,side_y'
bad() { # TEXT LIST
    printf '%b' "$2" >"$work/bad.csv"
    refused 3 "bad.csv: line $1" measure --batch "$work/bad.csv"
}
bad '1: no column "file"' ''
bad '1: no column "side_y"' 'file,frame,proximal_x,proximal_y,distal_x,distal_y,side_x\na,1,1,1,1,1,1\n'
bad '1: column "proximl_x" is unknown, the nearest known one is "proximal_x"' 'file,frame,proximl_x\n'
bad '1: column "file" was found twice' "file,$head\n"
bad '2: the list ends' "$head\n"
bad '3: 7 cells were found, 8 were expected' "$head\na,1,1,2,3,4,5,6\nb,1,1,2,3,4,5\n"
bad '2: frame "1.5"' "$head\na,1.5,1,2,3,4,5,6\n"
bad '2: frame "0"' "$head\na,0,1,2,3,4,5,6\n"
bad '2: distal_y "x"' "$head\na,1,1,2,3,x,5,6\n"
bad '2: side_x "nan"' "$head\na,1,1,2,3,4,nan,6\n"
bad '2: an empty file' "$head\n,1,1,2,3,4,5,6\n"
bad '2: a quote' "$head\na\"b,1,1,2,3,4,5,6\n"
bad '2: the text ends inside quotes' "$head\n\"a,1,1,2,3,4,5,6\n"
bad '2: mm_per_px "-1"' "$head,mm_per_px\na,1,1,2,3,4,5,6,-1\n"
refused 4 "read" measure --batch "$work/none.csv"
refused 2 "jobs" measure --batch "$work/data/list.csv" --jobs 0
refused 2 "unexpected word" measure --batch "$work/data/list.csv" extra.dcm
refused 2 "option --stage\|option --png" measure --batch "$work/data/list.csv" --png x.png
got=0
"$BRANCHKEEP_BIN" measure --batch "$work/data/good.csv" >/dev/full 2>"$work/e" || got=$?
[ $got = 4 ] || { echo "FAIL: a full disk gave code $got"; exit 1; }
