/* SPDX-License-Identifier: GPL-3.0-or-later */
// How numbers and codes are said. Nothing is computed here: rounding for the eye only.

export const LIMBS = ["proximal", "distal", "side"];
export const LIMB_NAMES = { proximal: "proximal main vessel", distal: "distal main vessel", side: "side branch" };
export const SITES = {
  left_main: "left main", lad_diagonal: "LAD / diagonal", lcx_marginal: "circumflex / marginal", rca_crux: "RCA crux", other: "other",
};
export const ORIGINS = {
  isocentre: "isocentre geometry of the file", catheter: "catheter", marker: "marker", entered: "entered",
};

export function has(q) {
  return q !== null && q !== undefined && typeof q.value === "number";
}

/** "1.42 ± 0.03"; what is withheld is said in words. */
export function said(q, decimals) {
  if (!has(q)) return "withheld";
  const spread = typeof q.sd === "number" ? ` ± ${q.sd.toFixed(decimals)}` : " (spread unknown)";
  return q.value.toFixed(decimals) + spread;
}

/** A length seen in one view is a lower bound. */
export function saidLength(q, decimals) {
  if (!has(q)) return "withheld";
  return `${q.origin === "projected" ? "≥ " : ""}${q.value.toFixed(decimals)} mm`;
}

// the unit is the last part of a name, in the case document as in the answers
const UNITS = [["10e9_l", "10⁹/L"], ["dgy_cm2", "dGy·cm²"], ["gy_cm2", "Gy·cm²"], ["gy", "Gy"], ["ml_kg_h", "mL/kg/h"], ["mg_ml", "mg/mL"], ["mg_dl", "mg/dL"], ["umol_l", "µmol/L"], ["mmol_l", "mmol/L"], ["g_dl", "g/dL"], ["g_l", "g/L"], ["ml_min", "mL/min"],
  ["mm2", "mm²"], ["mm", "mm"], ["pct", "%"], ["deg", "°"], ["atm", "atm"], ["ml", "mL"], ["mmhg", "mmHg"], ["px", "px"], ["kg", "kg"],
  ["cm", "cm"], ["y", "years"], ["min", "min"], ["s", "s"], ["u", "U"], ["x", "times its limit"], ["g", "g"]];

/** "diameter_mm" -> "diameter [mm]" */
export function label(key) {
  const found = UNITS.find(([end]) => key.endsWith(`_${end}`));
  const name = found ? key.slice(0, -found[0].length - 1) : key;
  return name.replaceAll("_", " ") + (found ? ` [${found[1]}]` : "");
}

export function angleName(info) {
  const { primary_deg: a, secondary_deg: b } = info;
  if (a === null || b === null || a === undefined || b === undefined) return "no angles in the file";
  return `${a < 0 ? "RAO" : "LAO"} ${Math.abs(a).toFixed(0)}° ${b < 0 ? "caudal" : "cranial"} ${Math.abs(b).toFixed(0)}°`;
}
