// Puts the whole page into one file, dist/barewash.html: markup, style, script, worker, module and the demo sheet.
// A page opened from a folder may load nothing beside it, so everything is inside.
//
//   node scripts/page.mjs

import { createHash } from "node:crypto";
import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build, transform } from "esbuild";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const at = (...parts) => join(root, ...parts);

/** Bundles one entry into a classic script without imports. */
async function bundle(entry, options = {}) {
  const result = await build({
    entryPoints: [at(entry)],
    absWorkingDir: root,
    bundle: true,
    write: false,
    format: "iife",
    // The oldest browsers with the vectors that the module needs.
    target: ["chrome91", "firefox89", "safari16.4"],
    minify: true,
    legalComments: "none",
    logLevel: "warning",
    ...options,
  });
  return result.outputFiles[0].text.trim();
}

/** Text that may stand inside a script element: no string or pattern in it can end the element or open a comment. */
const inScript = (text) => text.replace(/<(?=\/script|!--)/gi, "\\x3c");

const hash = (text) => `'sha256-${createHash("sha256").update(text).digest("base64")}'`;
const base64 = (path) => readFileSync(path).toString("base64");
const inert = (id, text) => `<script type="text/plain" id="${id}">${text}</script>`;

/** Replaces what `mark` finds, which must be there exactly once. */
function put(html, mark, text) {
  const found = html.match(new RegExp(mark, "gi")) ?? [];
  if (found.length !== 1) throw new Error(`www/index.html must have ${mark} once; it has it ${found.length} times`);
  return html.replace(new RegExp(mark, "i"), () => text);
}

async function page() {
  const style = await bundle("www/style.css", { format: undefined, target: ["chrome111", "firefox113", "safari16.4"] });
  if (/<\/style/i.test(style)) throw new Error("www/style.css must not hold </style");
  const script = inScript(await bundle("www/main.js"));
  const glue = await transform(readFileSync(at("target/page/barewash.js"), "utf8"), { minifyWhitespace: true, minifySyntax: true });
  const worker = inScript(glue.code + (await bundle("www/engine/worker.js")));
  const demo = at("dist/demo/sheet.jpg");

  // No request leaves the page, and only the text that was built here runs.
  const policy = [
    "default-src 'none'",
    `script-src ${hash(script)} 'wasm-unsafe-eval'`,
    "worker-src blob:",
    `style-src ${hash(style)}`,
    "img-src blob: data:",
    "connect-src 'none'",
    "form-action 'none'",
    "base-uri 'none'",
  ].join("; ");

  let html = readFileSync(at("www/index.html"), "utf8");
  if (/<[^>]*\s(style|on[a-z]+)=/i.test(html.replace(/<!--[^]*?-->/g, ""))) {
    throw new Error("www/index.html must have no style= or on…= attribute: the page's own policy forbids them");
  }
  html = html.replace(/<meta http-equiv="Content-Security-Policy"[^>]*>\n?/i, "");
  html = put(html, '<meta charset="?utf-8"?>', `<meta charset="utf-8">\n<meta http-equiv="Content-Security-Policy" content="${policy}">`);
  html = put(html, "<!-- style -->", `<style>${style}</style>`);
  html = put(
    html,
    "<!-- script -->",
    [
      inert("worker-source", worker),
      inert("module-wasm", base64(at("target/page/barewash_bg.wasm"))),
      inert("demo-sheet", existsSync(demo) ? base64(demo) : ""),
      `<script>${script}</script>`,
    ].join("\n"),
  );
  return html;
}

try {
  const html = await page();
  const out = at("dist/barewash.html");
  if (!existsSync(out) || readFileSync(out, "utf8") !== html) {
    mkdirSync(dirname(out), { recursive: true });
    writeFileSync(out, html);
    console.error(`barewash: wrote dist/barewash.html (${(Buffer.byteLength(html) / 1e6).toFixed(2)} MB)`);
  }
} catch (error) {
  console.error(`barewash: the page could not be made: ${error.message}`);
  process.exitCode = 1;
}
