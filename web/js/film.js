/* SPDX-License-Identifier: GPL-3.0-or-later */
// The film: picture, outlines, points. Pixel (0,0) is the centre of the first pixel, as everywhere (docs/conventions.md).
import { byId, s } from "./dom.js";
import { Frames, greyTable } from "./frames.js";
import { marks } from "./marks.js";
import { roles } from "./say.js";
import { LIMBS, LIMB_NAMES } from "./words.js";
import { state } from "./state.js";

const CLICK_SLOP_PX = 4;
const film = byId("film"), canvas = byId("picture"), overlay = byId("overlay");
const picture = document.createElement("canvas");

let frames = null, image = null, greys = null, shown = 0;
let window_ = { low: 0, high: 255 };
let view = { zoom: 1, x: 0, y: 0, fitted: true };
let cross = null;
let playing = 0;
let on = { place(_p, _way) {}, move(_i, _p, _how) {}, moveWay(_c, _p, _how) {}, drawing() { return false; }, stroke(_p, _last) {}, use(_tool) {}, frame(_k) {}, window(_was, _dx, _dy) {}, trouble(_e) {} };

/** @param {Partial<typeof on>} handlers */
export function listen(handlers) {
  on = { ...on, ...handlers };
}

export function openFilm(cine) {
  if (frames) frames.close();
  stop();
  frames = new Frames(cine.id, cine.info);
  picture.width = cine.info.columns;
  picture.height = cine.info.rows;
  image = picture.getContext("2d").createImageData(picture.width, picture.height);
  shown = 0;
  setWindow(cine.info.display.low, cine.info.display.high);
  fit();
}

export function closeFilm() {
  if (frames) frames.close();
  stop();
  frames = null;
  image = null;
  shown = 0;
  draw();
}

export function setWindow(low, high) {
  window_ = { low, high };
  if (!frames) return;
  greys = greyTable(frames.wide, low, high, state.cine.info.photometric === "MONOCHROME1");
  paint();
}
export function getWindow() {
  return window_;
}

let paints = 0, turns = 0, shownTurn = 0;
/** How many pictures were put on the screen, for bench/. */
export function painted() {
  return paints;
}

/** Put the frame that came last on the screen; exported for bench/. */
export function paint() {
  const px = frames && frames.now(shown);
  if (!px || !greys) return;
  const out = new Uint32Array(image.data.buffer);
  for (let i = 0; i < out.length; i++) out[i] = greys[px[i]];
  picture.getContext("2d").putImageData(image, 0, 0);
  paints++;
  draw();
}

/** Show a frame. One that comes late is still shown on the way, unless a later one was shown. @param {number} k */
export async function showFrame(k) {
  if (!frames) return;
  const own = frames, turn = ++turns;
  state.frame = k;
  on.frame(k);
  try {
    await own.get(k);
  } catch (error) {
    if (error.name !== "AbortError" && own === frames && state.frame === k) on.trouble(error);
    return;
  }
  if (own !== frames || turn < shownTurn) return;
  shown = k;
  shownTurn = turn;
  paint();
}

// ---- picture to screen ----

const toScreen = (p) => ({ x: (p.x + 0.5) * view.zoom + view.x, y: (p.y + 0.5) * view.zoom + view.y });
const toPicture = (x, y) => ({ x: (x - view.x) / view.zoom - 0.5, y: (y - view.y) / view.zoom - 0.5 });

export function fit() {
  if (!frames) return;
  const box = film.getBoundingClientRect();
  const zoom = Math.min(box.width / picture.width, box.height / picture.height);
  view = { zoom, x: (box.width - zoom * picture.width) / 2, y: (box.height - zoom * picture.height) / 2, fitted: true };
  draw();
}

export function zoomBy(factor, x, y) {
  const box = film.getBoundingClientRect();
  const cx = x ?? box.width / 2, cy = y ?? box.height / 2;
  const zoom = Math.min(40, Math.max(0.1, view.zoom * factor)), real = zoom / view.zoom;
  view = { zoom, x: cx - (cx - view.x) * real, y: cy - (cy - view.y) * real, fitted: false };
  draw();
}

/** Where a point of the picture stands on the page, for tests. */
export function onPage(p) {
  const box = film.getBoundingClientRect(), q = toScreen(p);
  return { x: q.x + box.left, y: q.y + box.top };
}

export function draw() {
  const box = film.getBoundingClientRect(), sharp = devicePixelRatio || 1;
  const w = Math.round(box.width * sharp), h = Math.round(box.height * sharp);
  if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  const ctx = canvas.getContext("2d");
  ctx.setTransform(1, 0, 0, 1, 0, 0);
  ctx.clearRect(0, 0, w, h);
  if (frames && shown) {
    ctx.setTransform(sharp * view.zoom, 0, 0, sharp * view.zoom, sharp * view.x, sharp * view.y);
    ctx.imageSmoothingEnabled = view.zoom < 6;
    ctx.drawImage(picture, 0, 0);
  }
  drawOverlay();
}

function path(points) {
  return points.map((p, i) => {
    const q = toScreen({ x: p[0], y: p[1] });
    return `${i ? "L" : "M"}${q.x.toFixed(1)} ${q.y.toFixed(1)}`;
  }).join("");
}

function outlines() {
  const m = state.measurement;
  if (!m || !byId("outlines").checked || m.source.frame !== shown) return [];
  const parts = [];
  for (const limb of LIMBS) {
    const profile = m.segments[limb].profile;
    for (const edge of ["left_px", "right_px"]) parts.push(s("path", { class: `outline limb-${limb}`, d: path(profile[edge]) }));
  }
  return parts;
}

function handle(i) {
  const limb = roles()[i], p = state.clicks[i], q = toScreen(p);
  return [
    s("circle", {
      class: `handle limb-${limb}${state.stale ? " stale" : ""}`, cx: q.x, cy: q.y, r: 8, tabindex: 0, role: "button", "data-limb": i, "data-key": `limb${i}`,
      "aria-label": `Point in the ${LIMB_NAMES[limb]}; arrow keys move it`, ...movable(() => state.clicks[i], (p_, how) => on.move(i, p_, how)),
    }),
    s("text", { class: `handle-name ink-${limb}`, x: q.x + 12, y: q.y + 4 }, limb),
  ];
}

let drawnCross = null;
function drawOverlay() {
  const active = document.activeElement;
  const focused = active instanceof SVGElement ? active.dataset.key : null;
  const parts = [...outlines(), ...marks(toScreen, shown, (c) => movable(() => ({ x: c.x_px, y: c.y_px }), (p, how) => on.moveWay(c, p, how)))];
  state.clicks.forEach((p, i) => { if (p) parts.push(...handle(i)); });
  drawnCross = cross && toScreen(cross);
  if (drawnCross) {
    const { x, y } = drawnCross;
    parts.push(s("path", { class: "cross", d: `M${x - 14} ${y}h10m8 0h10M${x} ${y - 14}v10m0 8v10` }));
  }
  overlay.replaceChildren(...parts);
  if (focused) {
    const again = overlay.querySelector(`[data-key="${focused}"]`);
    if (again) again.focus();
  }
}

// ---- points ----

function inside(p) {
  return { x: Math.min(picture.width - 1, Math.max(0, p.x)), y: Math.min(picture.height - 1, Math.max(0, p.y)) };
}

function at(event) {
  const box = film.getBoundingClientRect();
  return { x: event.clientX - box.left, y: event.clientY - box.top };
}

// Follow the pointer until it is let go.
function follow(event, move, end) {
  const stopper = new AbortController(), options = { signal: stopper.signal };
  film.setPointerCapture(event.pointerId);
  film.addEventListener("pointermove", move, options);
  const finish = (e) => { stopper.abort(); end(e); };
  film.addEventListener("pointerup", finish, options);
  film.addEventListener("pointercancel", finish, options);
}

// A point of the overlay that pointer and arrow keys move. @param {() => {x: number, y: number}} where @param {(p: any, how: "dragged" | "dropped" | "stepped") => void} to
function movable(where, to) {
  return { onpointerdown: (e) => grab(e, where, to), onkeydown: (e) => nudge(e, where, to) };
}

function grab(event, where, to) {
  if (event.button !== 0) return;
  event.stopPropagation();
  event.preventDefault();
  stop();
  follow(event, (e) => {
    const q = at(e);
    to(inside(toPicture(q.x, q.y)), "dragged");
  }, () => to(where(), "dropped"));
}

function nudge(event, where, to) {
  const step = event.altKey ? 0.25 : 1;
  const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
  if (!by) return;
  event.preventDefault();
  event.stopPropagation();
  const p = where();
  to(inside({ x: p.x + by[0], y: p.y + by[1] }), "stepped");
}

film.addEventListener("pointerdown", (event) => {
  if (!frames) return;
  event.preventDefault();
  film.focus({ preventScroll: true });
  const from = at(event), was = { ...view }, window0 = { ...window_ };
  const greying = event.button === 2 || event.shiftKey, drawing = event.button === 0 && !greying && on.drawing();
  const point = (q) => inside(toPicture(q.x, q.y));
  let moved = false;
  follow(event, (e) => {
    const q = at(e), dx = q.x - from.x, dy = q.y - from.y;
    const begun = !moved && Math.hypot(dx, dy) > CLICK_SLOP_PX;
    moved = moved || begun;
    if (!moved) return;
    if (drawing) {
      if (begun) on.stroke(point(from), false);
      on.stroke(point(q), false);
    } else if (greying) on.window(window0, dx, dy);
    else { view = { ...was, x: was.x + dx, y: was.y + dy, fitted: false }; draw(); }
  }, (e) => {
    if (moved && drawing) on.stroke(point(at(e)), true);
    if (moved || e.type !== "pointerup" || event.button !== 0 || greying) return;
    const p = toPicture(from.x, from.y);
    if (p.x >= 0 && p.y >= 0 && p.x <= picture.width - 1 && p.y <= picture.height - 1) on.place(p, event.altKey);
  });
});
film.addEventListener("contextmenu", (event) => event.preventDefault());

film.addEventListener("wheel", (event) => {
  if (!frames) return;
  event.preventDefault();
  const q = at(event);
  if (event.ctrlKey || event.metaKey) zoomBy(Math.exp(-event.deltaY / 300), q.x, q.y);
  else step(Math.sign(event.deltaY));
}, { passive: false });

export function step(by) {
  if (!frames || !by) return;
  const k = Math.min(frames.n, Math.max(1, state.frame + by));
  if (k !== state.frame) showFrame(k);
}

function moveCross(dx, dy) {
  const box = film.getBoundingClientRect();
  const step_ = 4 / view.zoom;
  cross = cross ? { x: cross.x + dx * step_, y: cross.y + dy * step_ } : toPicture(box.width / 2, box.height / 2);
  cross = inside(cross);
  draw();
}

const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
film.addEventListener("keydown", (event) => {
  if (!frames || event.ctrlKey || event.metaKey) return;
  const arrow = arrows[event.key];
  const actions = {
    " ": toggle, "+": () => zoomBy(1.25), "=": () => zoomBy(1.25), "-": () => zoomBy(0.8), 0: fit,
    Home: () => showFrame(1), End: () => showFrame(frames.n), Enter: () => cross && on.place({ ...cross }, event.altKey),
    w: () => on.use("via"), x: () => on.use("exclude"), e: () => on.use("edge"), Escape: () => on.use(""),
  };
  if (arrow && event.shiftKey) moveCross(...arrow);
  else if (arrow) step(arrow[0] + arrow[1]);
  else if (actions[event.key]) actions[event.key]();
  else return;
  event.preventDefault();
});

// ---- playing ----

export function isPlaying() {
  return playing !== 0;
}
export function stop() {
  cancelAnimationFrame(playing);
  playing = 0;
  on.frame(state.frame);
}
export function toggle() {
  if (playing || !frames) { stop(); return; }
  const wait = state.cine.info.frame_time_ms || 66;
  let last = performance.now();
  const tick = (now) => {
    playing = requestAnimationFrame(tick);
    if (now - last < wait - 2) return;
    const next = state.frame >= frames.n ? 1 : state.frame + 1;
    if (!frames.now(next)) { frames.get(next).catch((e) => e.name === "AbortError" || stop()); return; } // waits for the picture rather than skipping
    last = now;
    showFrame(next);
  };
  playing = requestAnimationFrame(tick);
  on.frame(state.frame);
}

new ResizeObserver(() => (view.fitted ? fit() : draw())).observe(film);
