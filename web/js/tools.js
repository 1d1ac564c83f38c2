/* SPDX-License-Identifier: GPL-3.0-or-later */
// Corrections drawn on the film: from the points of a stroke, or of single clicks, to what they say of which limb. Places in mm
// are looked up at the nearest measured sample, never computed here.
import { add } from "./say.js";
import { state } from "./state.js";
import { LIMBS } from "./words.js";

const CORNERS_MAX = 200;  // the program takes 256
const APART_PX = 1.5;     // corners of a stroke
const NEAR_PX = 40;       // farther from every limb is a slip of the hand

export const tool = { name: "", limb: "", drawn: false /* by dragging */, points: /** @type {{x: number, y: number}[]} */ ([]) };

const WORDS = {
  via: "Way-point: click where the limb passes.",
  exclude: "Leave out: drag along the stretch, or click its two ends.",
  edge: "Edge: draw along it, or click its corners and then Done.",
};

export function useTool(name, limb) {
  Object.assign(tool, { name, limb, drawn: false, points: [] });
}

export function toolWords() {
  return WORDS[tool.name];
}

const away = (p, x, y) => Math.hypot(p.x - x, p.y - y);
const round = (v) => Math.round(v * 100) / 100; // as results are written

// Of a limb's samples, the one nearest to p: {i, d}.
function sample(profile, p) {
  let best = { i: -1, d: Infinity };
  profile.x_px.forEach((x, i) => {
    const d = away(p, x, profile.y_px[i]);
    if (d < best.d) best = { i, d };
  });
  return best;
}

// The limb that is nearest to all the points, unless one was chosen.
function limbOf(points, distance) {
  if (tool.limb) return tool.limb;
  const cost = (limb) => points.reduce((sum, p) => sum + distance(limb, p), 0) / points.length;
  const best = LIMBS.reduce((a, b) => (cost(b) < cost(a) ? b : a));
  return cost(best) <= NEAR_PX ? best : "";
}

const NONE = "No limb is near; choose one in the list beside the tools, or draw closer to it.";

function takeVia([p]) {
  const m = state.measurement;
  const limb = tool.limb || (m && limbOf([p], (l, q) => sample(m.segments[l].profile, q).d));
  if (!limb) return NONE;
  add("via", { limb, x_px: round(p.x), y_px: round(p.y) });
  return "";
}

function takeExclude(points) {
  const segments = state.measurement.segments, ends = [points[0], points[points.length - 1]];
  const limb = limbOf(ends, (l, p) => sample(segments[l].profile, p).d);
  if (!limb) return NONE;
  const { position_mm } = segments[limb].profile;
  if (!position_mm.length) return "There is no scale, so no position in mm: give a scale first.";
  const [from, to] = ends.map((p) => position_mm[sample(segments[limb].profile, p).i]).sort((a, b) => a - b);
  if (to <= from) return "The stretch has no length: drag along the limb, or set two ends.";
  add("exclude", { limb, from_mm: round(from), to_mm: round(to) });
  return "";
}

function takeEdge(points) {
  if (points.length < 2) return "An edge needs two corners at least.";
  const segments = state.measurement.segments;
  const off = (limb, side, p) => Math.min(...segments[limb].profile[side].map(([x, y]) => away(p, x, y)));
  const limb = limbOf(points, (l, p) => Math.min(off(l, "left_px", p), off(l, "right_px", p)));
  if (!limb) return NONE;
  const mean = (side) => points.reduce((sum, p) => sum + off(limb, side, p), 0);
  const step = Math.ceil(points.length / CORNERS_MAX), corners = points.filter((_, i) => i % step === 0 || i === points.length - 1);
  add("edge", { limb, side: mean("left_px") <= mean("right_px") ? "left" : "right", x_px: corners.map((p) => round(p.x)), y_px: corners.map((p) => round(p.y)) });
  return "";
}

/** What keeps the tool from being used now; "": nothing. */
export function toolNeeds(name) {
  return name !== "via" && !state.measurement ? "Measure first: the three points, then this." : "";
}

/** Every point of a stroke as it comes. */
export function trace(p) {
  const last = tool.points[tool.points.length - 1];
  tool.drawn = true;
  if (!last || away(last, p.x, p.y) >= APART_PX) tool.points.push(p);
}

/** One clicked point. Is that all that is needed? */
export function corner(p) {
  tool.points.push(p);
  return tool.name === "via" || (tool.name === "exclude" && tool.points.length === 2);
}

/** Take what was drawn; returns why not, or "". The tool is put down either way. */
export function finishTool() {
  const take = { via: takeVia, exclude: takeExclude, edge: takeEdge }[tool.name], { points } = tool;
  const why = points.length ? take(points) : "Nothing was drawn.";
  useTool("", "");
  return why;
}
