// Writes an 8-bit PNG as a plain uncompressed RGB TIFF, 300 ppi, the way a simple scanner driver does.
//
//   node scripts/png-to-tiff.mjs IN.png OUT.tif

import { readFileSync, writeFileSync } from "node:fs";
import { PNG } from "pngjs";

const [from, to] = process.argv.slice(2);
const { width, height, data } = PNG.sync.read(readFileSync(from));

// Header, then the pixels in one strip, then the numbers too long for an entry, then the directory of entries.
const header = 8;
const strip = width * height * 3;
const extra = header + strip + (strip % 2);
const directory = extra + 6 + 16;
const SHORT = 3;
const LONG = 4;
const RATIONAL = 5;
const entries = [
  [256, LONG, 1, width],
  [257, LONG, 1, height],
  [258, SHORT, 3, extra], // bits of the three samples
  [259, SHORT, 1, 1], // not compressed
  [262, SHORT, 1, 2], // RGB
  [273, LONG, 1, header],
  [277, SHORT, 1, 3],
  [278, LONG, 1, height],
  [279, LONG, 1, strip],
  [282, RATIONAL, 1, extra + 6],
  [283, RATIONAL, 1, extra + 14],
  [296, SHORT, 1, 2], // per inch
];

const out = Buffer.alloc(directory + 2 + entries.length * 12 + 4);
out.write("II*\0", "latin1");
out.writeUInt32LE(directory, 4);
for (let i = 0, o = header; i < data.length; i += 4, o += 3) data.copy(out, o, i, i + 3);
for (let sample = 0; sample < 3; sample++) out.writeUInt16LE(8, extra + 2 * sample);
for (const axis of [0, 1]) {
  out.writeUInt32LE(300, extra + 6 + 8 * axis);
  out.writeUInt32LE(1, extra + 10 + 8 * axis);
}
out.writeUInt16LE(entries.length, directory);
entries.forEach(([tag, type, count, value], i) => {
  const at = directory + 2 + i * 12;
  out.writeUInt16LE(tag, at);
  out.writeUInt16LE(type, at + 2);
  out.writeUInt32LE(count, at + 4);
  out.writeUInt32LE(value, at + 8);
});
writeFileSync(to, out);
