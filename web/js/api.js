/* SPDX-License-Identifier: GPL-3.0-or-later */
// Speaking with the server.

// one page's newer request makes its older one needless
const PAGE = Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("");

export class Refused extends Error {
  /** @param {number} code @param {any} body */
  constructor(code, body) {
    super((body && body.error) || `the server answered ${code}`);
    this.code = code;
    this.body = body;
  }
}

async function reply(response) {
  if (response.ok) return response.json();
  let body = null;
  try { body = await response.json(); } catch { /* no JSON: the code alone is told */ }
  throw new Refused(response.status, body);
}

/** @param {string} path @param {AbortSignal} [signal] */
export async function get(path, signal) {
  return reply(await fetch(path, { signal, headers: { "X-Page": PAGE } }));
}

/** @param {string} path @param {any} body @param {AbortSignal} [signal] */
export async function post(path, body, signal) {
  return reply(await fetch(path, {
    method: "POST", signal, body: JSON.stringify(body), headers: { "Content-Type": "application/json", "X-Page": PAGE },
  }));
}

/** @param {Blob} file */
export async function upload(file) {
  return reply(await fetch("/api/cines", { method: "POST", body: file, headers: { "Content-Type": "application/dicom" } }));
}

/** @param {string} cine @param {number} frame @param {AbortSignal} [signal] */
export async function frameBytes(cine, frame, signal) {
  const response = await fetch(`/api/cines/${cine}/frames/${frame}`, { signal });
  if (!response.ok) return reply(response);
  return response.arrayBuffer();
}

// The token stands behind '#', is handed in once and taken out of the address.
export async function enter() {
  const match = /^#token=([0-9a-f]{32})$/.exec(location.hash);
  if (!match) return;
  history.replaceState(null, "", location.pathname);
  await post("/session", { token: match[1] });
}
