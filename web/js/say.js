/* SPDX-License-Identifier: GPL-3.0-or-later */
// What a person says about this measurement: when it was made, and what the program did not see (docs/methods/corrections.md).
// Kept in the shape of the result's own `corrections`, so that what was saved comes back as it was.
import { byId, h, visible } from "./dom.js";
import { state } from "./state.js";
import { LIMBS, LIMB_NAMES, said } from "./words.js";

const STAGES = ["baseline", "predilated", "stented", "final", "other"];
const PAIRS = [["distal", "side"], ["proximal", "distal"], ["proximal", "side"]];
const KINDS = ["via", "edge", "exclude", "reference", "swap"];

export function nothingSaid() {
  return { stage: "baseline", nitrate: "unknown", wire_in_limb: [], medina_threshold_pct: null, corrections: {} };
}

/** What was said of a kept measurement. */
export function saidOf(m) {
  return {
    stage: m.stage || "baseline", nitrate: m.nitrate || "unknown", wire_in_limb: (m.wire_in_limb || []).slice(),
    medina_threshold_pct: m.medina_threshold_pct === 50 ? null : m.medina_threshold_pct ?? null, corrections: structuredClone(m.corrections || {}),
  };
}

/** The list of one kind; made when it is to be added to. */
export function list(kind) {
  const all = state.say.corrections;
  return all[kind] = all[kind] || [];
}

function given(kind) {
  return state.say.corrections[kind] || [];
}

/** Take the one that was said last back; of what was kept, the last of its list. Is there any? */
export function takeBack() {
  const kinds = KINDS.filter((k) => given(k).length), last = kinds.find((k) => given(k).includes(latest)) || kinds[kinds.length - 1];
  if (!last) return false;
  remove(last, given(last).includes(latest) ? latest : given(last)[given(last).length - 1]);
  return true;
}

let latest = null;
/** @param {string} kind @param {any} what */
export function add(kind, what) {
  list(kind).push(what);
  latest = what;
  if (kind === "via" && state.measurement) outwards();
}

// The program takes way-points from the branching outwards, in whatever order they were set.
function outwards() {
  const [x, y] = state.measurement.branch_point_px, far = (w) => Math.hypot(w.x_px - x, w.y_px - y);
  list("via").sort((a, b) => far(a) - far(b));
}

function remove(kind, what) {
  const left = given(kind).filter((c) => c !== what);
  if (left.length) state.say.corrections[kind] = left;
  else delete state.say.corrections[kind];
}

/** Which limb a point stands for, after the swaps. @returns {string[]} */
export function roles() {
  const out = LIMBS.slice();
  for (const { limb, with: other } of given("swap")) {
    const [a, b] = [LIMBS.indexOf(limb), LIMBS.indexOf(other)];
    [out[a], out[b]] = [out[b], out[a]];
  }
  return out;
}

const TEXTS = {
  via: (c) => `${c.limb}:${c.x_px},${c.y_px}`,
  edge: (c) => `${c.limb}:${c.side}:${c.x_px.map((x, i) => `${x},${c.y_px[i]}`).join(",")}`,
  exclude: (c) => `${c.limb}:${c.from_mm},${c.to_mm}`,
  reference: (c) => `${c.limb}:${c.reference_mm.value}${typeof c.reference_mm.sd === "number" ? `,${c.reference_mm.sd}` : ""}`,
  swap: (c) => `${c.limb},${c.with}`,
};

/** What goes into a request for a measurement. */
export function sayRequest() {
  const { stage, nitrate, wire_in_limb, medina_threshold_pct } = state.say;
  const corrections = Object.fromEntries(KINDS.filter((k) => given(k).length).map((k) => [k, given(k).map(TEXTS[k])]));
  return { stage, nitrate, wire_in_limb, medina_threshold_pct, ...corrections };
}

// ---- the card ----

const LINES = {
  via: (c) => `way-point in the ${LIMB_NAMES[c.limb]} at ${c.x_px.toFixed(0)}, ${c.y_px.toFixed(0)}`,
  edge: (c) => `${c.side} edge of the ${LIMB_NAMES[c.limb]}, ${c.x_px.length} corners`,
  exclude: (c) => `left out in the ${LIMB_NAMES[c.limb]}: ${c.from_mm.toFixed(1)} to ${c.to_mm.toFixed(1)} mm from the branch point`,
  reference: (c) => `reference of the ${LIMB_NAMES[c.limb]}: ${said(c.reference_mm, 2)} mm, entered`,
  swap: (c) => `${LIMB_NAMES[c.limb]} and ${LIMB_NAMES[c.with]} changed over`,
};

function select(text, value, choices, set) {
  return h("label", {}, text, h("select", { onchange: (e) => set(e.target.value) },
    choices.map(([v, name]) => h("option", { value: v, selected: v === value }, name))));
}

function facts(changed) {
  const say = state.say, same = (list_) => list_.map((v) => [v, v]);
  const wires = LIMBS.map((limb) => h("label", { class: "check" }, h("input", {
    type: "checkbox", checked: say.wire_in_limb.includes(limb),
    onchange: (e) => { say.wire_in_limb = LIMBS.filter((l) => (l === limb ? e.target.checked : say.wire_in_limb.includes(l))); changed(); },
  }), limb));
  return [
    h("div", { class: "form" },
      select("Stage", say.stage, same(STAGES), (v) => { say.stage = v; changed(); }),
      select("Nitrate given before", say.nitrate, same(["unknown", "yes", "no"]), (v) => { say.nitrate = v; changed(); }),
      select("The three points", swapNow(), [["", "as they were set"], ...PAIRS.map(([a, b]) => [`${a},${b}`, `${a} and ${b} changed over`]),
        ...(swapNow() === "more" ? [["more", "changed over more than once"]] : [])], (v) => { setSwap(v); changed(); }),
      h("label", {}, "Medina counts a limb from [%]", h("input", { type: "number", min: 1, max: 100, step: "any", placeholder: "50", value: say.medina_threshold_pct ?? "",
        onchange: (e) => { say.medina_threshold_pct = Number(e.target.value) > 0 ? Number(e.target.value) : null; changed(); } }))),
    h("fieldset", { class: "row" }, h("legend", {}, "A wire lies in"), wires),
  ];
}

function swapNow() {
  const swaps = given("swap");
  if (!swaps.length) return "";
  const pair = PAIRS.find((p) => p.includes(swaps[0].limb) && p.includes(swaps[0].with));
  return swaps.length === 1 && pair ? pair.join(",") : "more";
}

function setSwap(value) {
  if (value === "more") return;
  delete state.say.corrections.swap;
  const [limb, other] = value.split(",");
  if (other) add("swap", { limb, with: other });
}

function references(changed) {
  const row = (limb) => {
    const now = given("reference").find((c) => c.limb === limb), q = now ? now.reference_mm : {};
    const set = (key, text) => {
      const next = { ...q, origin: "entered", [key]: text === "" ? null : Number(text) };
      if (now) remove("reference", now);
      if (next.value > 0) add("reference", { limb, reference_mm: { value: next.value, sd: next.sd ?? null, origin: "entered" } });
      changed();
    };
    const input = (key, text, attributes) => h("input", { type: "number", step: "any", "aria-label": `${text} of the ${LIMB_NAMES[limb]}`, value: q[key] ?? "", onchange: (e) => set(key, e.target.value), ...attributes });
    return [h("span", { class: `name-${limb}` }, LIMB_NAMES[limb]), input("value", "Reference in mm", { min: 0.3, max: 15, placeholder: "mm" }),
      input("sd", "SD of the reference in mm", { min: 0, placeholder: "± SD", disabled: !now })];
  };
  return [h("h3", {}, "Reference, when it is known better"), h("div", { class: "references" }, LIMBS.map(row))];
}

/** @param {() => void} changed it is to be measured again @param {(tool: string, limb: string) => void} use a tool on the film */
export function drawSay(changed, use) {
  const again = () => { drawSay(changed, use); changed(); };
  const limb = h("select", { id: "tool-limb", "aria-label": "Limb of what is drawn" }, h("option", { value: "" }, "nearest limb"), LIMBS.map((l) => h("option", { value: l }, LIMB_NAMES[l])));
  const tool = (name, text, title) => h("button", { type: "button", title, "data-tool": name, disabled: !state.cine, onclick: () => use(name, limb.value) }, text);
  const rows = KINDS.flatMap((kind) => given(kind).map((c) => h("li", {}, h("span", {}, visible(LINES[kind](c))),
    h("button", { type: "button", "aria-label": `Remove: ${LINES[kind](c)}`, onclick: () => { remove(kind, c); again(); } }, "Remove"))));
  byId("say").replaceChildren(...facts(again).flat(), h("h3", {}, "On the film"),
    h("div", { class: "row" }, tool("via", "Way-point", "The limb passes here (W, or Alt and click)"), tool("exclude", "Leave out", "A stretch that does not count: drag along it (X)"),
      tool("edge", "Draw edge", "The edge is here: drag along it (E)"), limb),
    ...references(again), rows.length ? h("ul", { class: "said" }, rows) : "");
  const n = rows.length;
  byId("say-text").textContent = `${state.say.stage}${n ? `, ${n} correction${n === 1 ? "" : "s"}` : ""}`;
}
