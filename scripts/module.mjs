// Makes an npm-ready package of what wasm-bindgen wrote into a folder: the entry for Node, package.json and a README.
//
//   node scripts/module.mjs dist/module

import { copyFileSync, existsSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const folder = process.argv[2];

/** A field of [package] in Cargo.toml, so that version and license stand in one place. */
function cargoField(name) {
  const found = readFileSync(join(root, "Cargo.toml"), "utf8").match(new RegExp(`^${name} = "(.*)"`, "m"));
  if (!found) throw new Error(`Cargo.toml has no ${name}`);
  return found[1];
}

const manifest = {
  name: "barewash",
  version: cargoField("version"),
  description: cargoField("description"),
  license: cargoField("license"),
  type: "module",
  types: "./barewash.d.ts",
  exports: {
    ".": { types: "./barewash.d.ts", node: "./barewash.node.js", default: "./barewash.js" },
    "./barewash_bg.wasm": "./barewash_bg.wasm",
  },
  files: ["barewash.js", "barewash.node.js", "barewash_bg.wasm", "barewash.d.ts", "barewash_bg.wasm.d.ts", "LICENSE*"],
  sideEffects: ["./barewash.node.js"],
  engines: { node: ">=20" },
};

// Node has no fetch of files, and needs none: there the module is ready as soon as it is imported.
const nodeEntry = `import { readFileSync } from "node:fs";
import init, { initSync } from "./barewash.js";

initSync({ module: readFileSync(new URL("./barewash_bg.wasm", import.meta.url)) });

export * from "./barewash.js";
export default init;
`;

const readme = `# barewash

${manifest.description}

\`\`\`js
import init, { Session } from "barewash";
await init(); // in Node this is done already

const session = new Session(bytes); // a Uint8Array of a TIFF, PNG, JPEG, WebP, BMP or PDF scan
while (session.step() < 1);
const png = session.save('{ "bits": 16 }');
session.free();
\`\`\`

Units and ranges stand in \`barewash.d.ts\`.
`;

writeFileSync(join(folder, "package.json"), JSON.stringify(manifest, null, 2) + "\n");
writeFileSync(join(folder, "barewash.node.js"), nodeEntry);
writeFileSync(join(folder, "README.md"), readme);
for (const license of ["LICENSE-MIT", "LICENSE-APACHE", "LICENSE"]) {
  if (existsSync(join(root, license))) copyFileSync(join(root, license), join(folder, license));
}
