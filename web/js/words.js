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

/** "diameter_mm" -> "diameter [mm]" */
export function label(key) {
  const units = { mm: "mm", mm2: "mm²", pct: "%", deg: "°", atm: "atm", ml: "mL", mmhg: "mmHg", px: "px", g: "g", s: "s", ms: "ms" };
  const words = key.split("_");
  const unit = units[words[words.length - 1]];
  if (unit && words.length > 1) words.pop();
  return words.join(" ") + (unit && key.includes("_") ? ` [${unit}]` : "");
}

export function angleName(info) {
  const { primary_deg: a, secondary_deg: b } = info;
  if (a === null || b === null || a === undefined || b === undefined) return "no angles in the file";
  return `${a < 0 ? "RAO" : "LAO"} ${Math.abs(a).toFixed(0)}° ${b < 0 ? "caudal" : "cranial"} ${Math.abs(b).toFixed(0)}°`;
}
