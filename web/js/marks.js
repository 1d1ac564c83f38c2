/* SPDX-License-Identifier: GPL-3.0-or-later */
// What was said on the film: way-points, drawn edges, stretches left out, the scale's two points, and what is being drawn.
import { s } from "./dom.js";
import { state } from "./state.js";
import { tool } from "./tools.js";
import { LIMB_NAMES } from "./words.js";

function path(points, toScreen) {
  return points.map((p, i) => {
    const q = toScreen(p);
    return `${i ? "L" : "M"}${q.x.toFixed(1)} ${q.y.toFixed(1)}`;
  }).join("");
}

function stretch(c, toScreen) {
  const profile = state.measurement.segments[c.limb].profile, points = [];
  profile.position_mm.forEach((mm, i) => { if (mm >= c.from_mm && mm <= c.to_mm) points.push({ x: profile.x_px[i], y: profile.y_px[i] }); });
  return points.length > 1 ? [s("path", { class: "left-out", d: path(points, toScreen) })] : [];
}

function wayPoint(c, i, toScreen, events) {
  const { x, y } = toScreen({ x: c.x_px, y: c.y_px });
  return s("path", {
    class: `way limb-${c.limb}`, d: `M${x} ${y - 7}l7 7l-7 7l-7 -7z`, tabindex: 0, role: "button", "data-key": `way${i}`,
    "aria-label": `Way-point in the ${LIMB_NAMES[c.limb]}; arrow keys move it`, ...events(c),
  });
}

// What the scale was taken from: a line between two small crosses.
function ruler(points, toScreen) {
  const ends = points.map(toScreen).map(({ x, y }) => `M${x - 4} ${y}h8m-4 -4v8`).join("");
  return points.length ? [s("path", { class: "ruler", d: `${path(points, toScreen)}${ends}` })] : [];
}

/** @param {(p: {x: number, y: number}) => {x: number, y: number}} toScreen @param {number} frame that is shown @param {(c: any) => any} events */
export function marks(toScreen, frame, events) {
  const said = state.say.corrections, m = state.measurement, parts = ruler(state.scale.catheter || [], toScreen);
  if (!m || m.source.frame === frame) {
    if (m) for (const c of said.exclude || []) parts.push(...stretch(c, toScreen));
    for (const c of said.edge || []) parts.push(s("path", { class: "drawn-edge", d: path(c.x_px.map((x, i) => ({ x, y: c.y_px[i] })), toScreen) }));
    (said.via || []).forEach((c, i) => parts.push(wayPoint(c, i, toScreen, events)));
  }
  if (tool.points.length) {
    parts.push(s("path", { class: "stroke", d: path(tool.points, toScreen) }));
    for (const p of tool.drawn ? [] : tool.points) { const q = toScreen(p); parts.push(s("circle", { class: "stroke", cx: q.x, cy: q.y, r: 2.5 })); }
  }
  return parts;
}
