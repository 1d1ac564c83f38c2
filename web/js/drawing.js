/* SPDX-License-Identifier: GPL-3.0-or-later */
// The drawn bifurcation: the result itself, not a picture beside a table. Limbs are laid straight and to one scale, at the
// angles that were measured; line to line is the lumen, dashes are the healthy lumen expected, the tick is the tightest
// place. Positions on the drawing are worked out here; every number that is shown comes from the document.
import { s } from "./dom.js";
import { LIMBS, LIMB_NAMES, ORIGINS, has, said, saidLength } from "./words.js";

const WIDE = 560, HIGH = 470;
const ROOM = { left: 18, right: 542, top: 122, bottom: 332 };
const TOP_LINE = 22, LOW_LINE = 358, NOTE_LINE = 460;

const radians = (deg) => (deg * Math.PI) / 180;
const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

// A limb without samples: contrast stops at its ostium. The tick, as wide as the healthy lumen, and dashes to where it fills again.
function stopped(m, limb) {
  const seg = m.segments[limb], mm = m.calibration.mm_per_px, gap = seg.occlusion || {};
  const px = (v, otherwise) => (mm && typeof v === "number" ? v / mm : otherwise);
  const from = px(gap.stop_mm, m.core.radius_px), wide = px(has(seg.reference_mm) ? seg.reference_mm.value : null, 2 * m.core.radius_px);
  return { along: [from], width: [0], healthy: [], tight: 0, tick: wide, gap: [from, px(gap.refill_mm, from)] };
}

// A limb as distances from the branch point and widths, in pixels of the film.
function straight(m, limb) {
  if (!m.segments[limb].profile.x_px.length) return stopped(m, limb);
  const profile = m.segments[limb].profile, points = profile.x_px.map((x, i) => [x, profile.y_px[i]]);
  const along = [];
  points.forEach((p, i) => along.push(i ? along[i - 1] + distance(p, points[i - 1]) : distance(p, m.branch_point_px)));
  const width = points.map((_, i) => distance(profile.left_px[i], profile.right_px[i]));
  const mm = m.calibration.mm_per_px;
  const healthy = mm ? profile.reference_mm.map((v) => v / mm) : [];
  return { along, width, healthy, tight: tightest(m.segments[limb], width) };
}

function tightest(segment, width) {
  const positions = segment.profile.position_mm, wanted = segment.mld_position_mm;
  if (wanted === null || !positions.length) return width.indexOf(Math.min(...width));
  let best = 0;
  positions.forEach((p, i) => { if (Math.abs(p - wanted) < Math.abs(positions[best] - wanted)) best = i; });
  return best;
}

// Directions: proximal comes from the left, distal and side leave at their angles to it and to one another.
function directions(m) {
  const a = m.angles, of = (key, usual) => (has(a[key]) ? a[key].value : usual);
  const apart = of("distal_side_deg", 60), mainBend = 180 - of("proximal_distal_deg", 165), sideBend = 180 - of("proximal_side_deg", 130);
  const fits = (bend) => Math.abs(Math.abs(apart - bend) - sideBend);
  const bend = fits(mainBend) <= fits(-mainBend) ? mainBend : -mainBend;
  return { proximal: radians(180), distal: radians(-bend), side: radians(apart - bend) };
}

function place(limb, angle, t, off) {
  return [Math.cos(angle) * t - Math.sin(angle) * off, Math.sin(angle) * t + Math.cos(angle) * off];
}

function fitInto(shapes) {
  const all = shapes.flat(), xs = all.map((p) => p[0]), ys = all.map((p) => p[1]);
  const x0 = Math.min(...xs), x1 = Math.max(...xs), y0 = Math.min(...ys), y1 = Math.max(...ys);
  const k = Math.min((ROOM.right - ROOM.left) / (x1 - x0), (ROOM.bottom - ROOM.top) / (y1 - y0));
  const dx = (ROOM.left + ROOM.right) / 2 - (k * (x0 + x1)) / 2, dy = (ROOM.top + ROOM.bottom) / 2 - (k * (y0 + y1)) / 2;
  return { k, to: (p) => [k * p[0] + dx, k * p[1] + dy] };
}

const line = (points, closed) => points.map((p, i) => `${i ? "L" : "M"}${p[0].toFixed(1)} ${p[1].toFixed(1)}`).join("") + (closed ? "Z" : "");

function anglesDrawn(m, dirs, centre, core, k, widths) {
  const parts = [];
  const between = (one, two, key) => {
    if (!has(m.angles[key])) return;
    let from = dirs[one], to = dirs[two];
    if (to - from > Math.PI) to -= 2 * Math.PI;
    if (from - to > Math.PI) to += 2 * Math.PI;
    const middle = (from + to) / 2, open = Math.abs(to - from);
    if (open < radians(8)) return;
    const clear = (widths[one] + widths[two]) * k / 4 + 24;
    const r = Math.min(150, Math.max(core + 22, clear / Math.sin(Math.min(open, Math.PI) / 2)));
    const ends = [from, to].map((a) => [centre[0] + r * 0.78 * Math.cos(a), centre[1] + r * 0.78 * Math.sin(a)]);
    parts.push(s("path", { class: "arc", d: `M${ends[0].join(" ")}A${r * 0.78} ${r * 0.78} 0 0 ${to > from ? 1 : 0} ${ends[1].join(" ")}` }));
    parts.push(s("text", { class: "quiet", "text-anchor": "middle", x: centre[0] + r * Math.cos(middle), y: centre[1] + r * Math.sin(middle) + 4 },
      `${m.angles[key].value.toFixed(0)}°`));
  };
  between("distal", "side", "distal_side_deg");
  between("side", "proximal", "proximal_side_deg");
  return parts;
}

function limbLines(m, limb) {
  const seg = m.segments[limb];
  if (seg.occluded) return ["occluded", `reference ${has(seg.reference_mm) ? `${said(seg.reference_mm, 2)} mm` : "withheld"}`, "the tick is where contrast stops"];
  const size = (name, q) => `${name} ${has(q) ? `${said(q, 2)} mm` : m.calibration.mm_per_px ? "cannot say" : "withheld: no scale"}`;
  const lesion = has(seg.lesion_length_mm) ? `lesion ${saidLength(seg.lesion_length_mm, 1)}` : has(seg.length_mm) ? "no lesion length" : "lengths withheld";
  return [size("MLD", seg.mld_mm), size("reference", seg.reference_mm), has(seg.length_mm) ? `${lesion} · limb ${saidLength(seg.length_mm, 1)}` : lesion];
}

function block(m, limb, x, y, anchor) {
  const seg = m.segments[limb], lines = limbLines(m, limb);
  const tone = (text) => (text.includes("withheld") || text.includes("cannot say") ? "doubt" : null);
  return s("g", { "data-limb": limb, "text-anchor": anchor },
    s("text", { class: `name ink-${limb}`, x, y }, LIMB_NAMES[limb]),
    s("text", { class: "big", x, y: y + 26 }, seg.occluded ? "100 %" : has(seg.stenosis_pct) ? `${said(seg.stenosis_pct, 0)} %` : "withheld"),
    s("text", { class: tone(lines[0]), x, y: y + 45 }, lines[0]), s("text", { class: tone(lines[1]), x, y: y + 62 }, lines[1]),
    s("text", { class: tone(lines[2]) || "quiet", x, y: y + 79 }, lines[2]));
}

function scaleWords(m) {
  const c = m.calibration;
  if (!c.mm_per_px) return "no scale: sizes in mm are withheld; ± is 1 SD";
  const others = c.routes.length > 1 ? (c.agreement === "agree" ? ", routes agree" : ", ROUTES DISAGREE") : "";
  return `scale ${c.mm_per_px.toFixed(3)} mm/px ± ${c.sd_pct.toFixed(1)} % (${ORIGINS[c.origin] || c.origin})${others}; ± is 1 SD, given the scale`;
}

function general(m) {
  const x = 18, y = LOW_LINE, ways = m.medina_alternatives || [];
  const sure = ways.find((w) => w.medina === m.medina);
  const rest = ways.filter((w) => w.medina !== m.medina && w.probability_pct >= 1).map((w) => `${w.medina} ${w.probability_pct.toFixed(0)} %`);
  return s("g", { "data-limb": "all" },
    s("text", { class: "name", x, y }, "Medina"),
    s("text", { class: "big", x, y: y + 26 }, m.medina),
    s("text", { class: rest.length ? "doubt" : "quiet", x, y: y + 45 }, rest.length ? `or ${rest.join(", ")}` : sure ? `probability ${sure.probability_pct.toFixed(0)} %` : ""),
    s("text", { class: has(m.core.diameter_mm) ? "quiet" : "doubt", x, y: y + 62 }, has(m.core.diameter_mm) ? `core ${said(m.core.diameter_mm, 2)} mm` : "core: mm withheld"));
}

// From the tightest place to the words that belong to it.
const REACH = { proximal: [18, 170, 108], distal: [390, 542, 108], side: [400, 542, 342] };
function leaders(fitted, dirs, shape) {
  return LIMBS.map((limb) => {
    const { along, tight, width } = shape[limb], [low, high, y] = REACH[limb];
    const on = fitted.to(place(limb, dirs[limb], along[tight], 0));
    const off = (width[tight] / 2) * fitted.k + 6, from = [on[0], on[1] + (y < on[1] ? -off : off)];
    return s("path", { class: "leader", d: line([from, [Math.min(high, Math.max(low, from[0])), y]]) });
  });
}

/** @param {any} m branchkeep.measurement/1 @returns {SVGElement} */
export function drawn(m) {
  const dirs = directions(m), shape = {}, widths = {}, outline = {}, dashes = {};
  for (const limb of LIMBS) {
    shape[limb] = straight(m, limb);
    const { along, width, healthy, tight, gap, tick = width[tight] } = shape[limb];
    const side = (list, sign) => along.map((t, i) => place(limb, dirs[limb], t, (sign * list[i]) / 2));
    // led on to the branch point, so that limbs and core join; what lies inside another is painted over
    const edges = [1, -1].map((sign) => [place(limb, dirs[limb], 0, (sign * width[0]) / 2), ...side(width, sign)]);
    shape[limb].edges = edges;
    outline[limb] = [...edges[0], ...edges[1].slice().reverse()];
    dashes[limb] = healthy.length ? [side(healthy, 1), side(healthy, -1)] : [];
    if (gap) dashes[limb] = [1, -1].map((sign) => gap.map((t) => place(limb, dirs[limb], t, (sign * tick) / 2)));
    widths[limb] = width[0];
    shape[limb].tick = [place(limb, dirs[limb], along[tight], tick / 2 + 3), place(limb, dirs[limb], along[tight], -tick / 2 - 3)];
  }
  const fitted = fitInto([...Object.values(outline), ...Object.values(dashes).flat()]);
  const centre = fitted.to([0, 0]), core = m.core.radius_px * fitted.k;
  const walls = LIMBS.flatMap((limb) => shape[limb].edges.map((edge) => s("path", { class: `wall limb-${limb}`, d: line(edge.map(fitted.to)) })));
  const lumens = LIMBS.map((limb) => s("path", { class: "lumen", d: line(outline[limb].map(fitted.to), true) }));
  const words = `Drawing of the bifurcation. Medina ${m.medina}. ` + LIMBS.map((limb) =>
    `${LIMB_NAMES[limb]}: stenosis ${said(m.segments[limb].stenosis_pct, 0)} percent, ${limbLines(m, limb).join(", ")}`).join(". ");
  return s("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": words },
    ...walls, s("circle", { class: "wall core", cx: centre[0], cy: centre[1], r: core }),
    ...lumens, s("circle", { class: "lumen", cx: centre[0], cy: centre[1], r: core }),
    ...LIMBS.flatMap((limb) => dashes[limb].map((side) => s("path", { class: `healthy limb-${limb}`, d: line(side.map(fitted.to)) }))),
    ...LIMBS.map((limb) => s("path", { class: "tick", d: line(shape[limb].tick.map(fitted.to)) })),
    ...leaders(fitted, dirs, shape),
    ...anglesDrawn(m, dirs, centre, core, fitted.k, widths),
    block(m, "proximal", 18, TOP_LINE, "start"), block(m, "distal", 542, TOP_LINE, "end"), block(m, "side", 542, LOW_LINE, "end"), general(m),
    s("text", { class: m.calibration.mm_per_px ? "quiet" : "doubt", x: 18, y: NOTE_LINE }, scaleWords(m)));
}
