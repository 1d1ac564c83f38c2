// SPDX-License-Identifier: GPL-3.0-or-later
// node npm_decode.mjs jpeg_lossless|jpeg_2000 PACKAGE_FOLDER IN... : decode compressed frames with decoders that share
// nothing with DCMTK or OpenJPEG; IN.raw gets 16-bit little-endian values.
import { createRequire } from "node:module";
import { readFileSync, writeFileSync } from "node:fs";

const require = createRequire(import.meta.url);
const [kind, folder, ...inputs] = process.argv.slice(2);

function losslessDecoder() {
  const { Decoder } = require(folder + "/release/cjs/lossless.cjs");
  return (bytes) => {
    const decoder = new Decoder();
    const buffer = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length);
    const out = decoder.decompress(buffer, 0, buffer.byteLength);
    return decoder.frame.precision > 8 ? new Uint16Array(out) : new Uint8Array(out);
  };
}

function jpeg2000Decoder() {
  const Image = require(folder + "/lib/jpx.js");
  return (bytes) => {
    const image = new Image();
    image.parse(new Uint8Array(bytes));
    return image.tiles[0].items;
  };
}

const decode = kind === "jpeg_lossless" ? losslessDecoder() : jpeg2000Decoder();
for (const input of inputs) writeFileSync(input + ".raw", Buffer.from(Uint16Array.from(decode(readFileSync(input))).buffer));
