// Lifts scans off their paper by the module in dist/module. scripts/lift sets up and builds, then runs this.
// One scan at a time, each in a worker of its own: a scan that breaks the module spoils no other, and the
// memory of one is given back before the next.

import { mkdirSync, readFileSync, realpathSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { basename, dirname, extname, join, resolve } from "node:path";
import { parseArgs } from "node:util";
import { Worker } from "node:worker_threads";

const help = `Lifts paintings off their scanned paper.

  scripts/lift SCAN [SCAN ...] [-o OUT | --out-dir DIR] [--recipe R.json] [--format png|tiff|webp] [--bits 8|16]
               [--page N] [--ppi N | --width W] [--title TEXT] [--artist TEXT] [--copyright TEXT] [--profile] [--report REPORT.json]

  SCAN               a TIFF, PNG, JPEG, WebP, BMP or PDF file
  -o, --out OUT      the picture to write (one scan only); otherwise NAME.lifted.png beside each scan
      --out-dir DIR  a folder for the pictures; made when missing
      --recipe FILE  choices as JSON; the rest as the page starts out
      --format F     png, tiff or webp; without it as OUT ends (.png, .tif, .tiff, .webp), else png
      --bits 8|16    depth of the picture (8); a WebP has 8
      --page N       the page of a TIFF or PDF of several, counted from 1; otherwise the recipe's, or the largest
      --ppi N        pixels per inch of the scans, when a file says nothing or says it wrong
      --width W      how wide the original is instead, all of the scan: 210mm, 21cm or 8.27in
      --title TEXT   what is written into the pictures beside their pixels: the title,
      --artist TEXT  the painter's name,
      --copyright TEXT  and the copyright notice
      --profile      embed the color profile of sRGB, for programs that ask for one
      --report FILE  what was found and how long it took, as JSON: an object for one scan, an array for several
  -h, --help         this text

Exit: 0 all scans lifted; 2 something was wrong with a scan or the call (one line each on stderr); 1 not set up.
`;

/** Something the caller got wrong: one line, exit 2. */
class Refusal extends Error {}

/** The formats: how their files end, the usual ending first. */
const endings = { png: [".png"], tiff: [".tif", ".tiff"], webp: [".webp"] };

/** The format that is asked for, or that the file to write is named for. */
function formatOf(asked, out) {
  if (asked !== undefined && !Object.hasOwn(endings, asked)) throw new Refusal(`--format is ${asked}; it can be png, tiff or webp`);
  const ending = out === undefined ? "" : extname(out).toLowerCase();
  const named = Object.keys(endings).find((format) => endings[format].includes(ending));
  if (asked && named && asked !== named) throw new Refusal(`${out} is named for another format than --format ${asked}; change one of them`);
  if (ending && !asked && !named) throw new Refusal(`${out} ends like no picture that is written; end it in .png, .tif or .webp, or give --format`);
  return asked ?? named ?? "png";
}

/** The call, checked: what can be refused without the module is refused here. */
function readCall(args) {
  let parsed;
  try {
    parsed = parseArgs({
      args,
      allowPositionals: true,
      options: {
        out: { type: "string", short: "o" },
        "out-dir": { type: "string" },
        recipe: { type: "string" },
        format: { type: "string" },
        bits: { type: "string", default: "8" },
        page: { type: "string" },
        title: { type: "string" },
        artist: { type: "string" },
        copyright: { type: "string" },
        profile: { type: "boolean", default: false },
        ppi: { type: "string" },
        width: { type: "string" },
        report: { type: "string" },
        help: { type: "boolean", short: "h" },
      },
    });
  } catch (error) {
    throw new Refusal(`${error.message.split(/\. |\n/)[0]}; see scripts/lift --help`);
  }
  const { values, positionals: scans } = parsed;
  if (values.help) return { help: true };
  if (scans.length === 0) throw new Refusal("no scan is named; see scripts/lift --help");
  if (values.out && values["out-dir"]) throw new Refusal("-o and --out-dir exclude each other; give one of them");
  if (values.out && scans.length > 1) throw new Refusal(`-o names one picture, but there are ${scans.length} scans; use --out-dir`);
  if (!["8", "16"].includes(values.bits)) throw new Refusal(`--bits is ${values.bits}; it can be 8 or 16`);
  const format = formatOf(values.format, values.out);
  if (format === "webp" && values.bits !== "8") throw new Refusal("a WebP has 8 bits; give --bits 8, or write a PNG or TIFF");
  const { title, artist, copyright, profile } = values;
  const saving = JSON.stringify({ format, bits: Number(values.bits), title, artist, copyright, profile });
  const ppi = values.ppi === undefined ? undefined : Number(values.ppi);
  if (ppi !== undefined && !(ppi > 0 && Number.isFinite(ppi))) throw new Refusal(`--ppi is ${values.ppi}; it must be a number above 0`);

  if (values.width !== undefined && ppi !== undefined) throw new Refusal("--ppi and --width say the same; give one of them");
  const width = values.width === undefined ? undefined : readWidth(values.width);
  if (values.page !== undefined && !/^[1-9]\d{0,5}$/.test(values.page)) {
    throw new Refusal(`--page is ${values.page}; it must be a whole number from 1`);
  }
  const page = values.page === undefined ? undefined : Number(values.page);

  const jobs = scans.map((scan) => {
    const ofPage = page === undefined ? "" : `.page-${page}`;
    const name = `${basename(scan, extname(scan))}${ofPage}.lifted${endings[format][0]}`;
    return { scan, out: values.out ?? join(values["out-dir"] ?? dirname(scan), name) };
  });
  const scanPaths = new Set(jobs.map((job) => canonical(job.scan)));
  const outPaths = new Map();
  for (const file of [...jobs.map((job) => job.out), values.report].filter(Boolean)) {
    if (scanPaths.has(canonical(file))) throw new Refusal(`${file} is a scan itself and would be overwritten; name another file`);
  }
  for (const { scan, out } of jobs) {
    const other = outPaths.get(canonical(out));
    if (other) throw new Refusal(`${other} and ${scan} would both be written to ${out}; lift them into different folders`);
    outPaths.set(canonical(out), scan);
  }
  if (values.report && outPaths.has(canonical(values.report))) throw new Refusal(`the report and a picture would both be written to ${values.report}`);

  let recipe;
  let pageOfRecipe;
  if (values.recipe) {
    recipe = readText(values.recipe, "recipe");
    try {
      const read = JSON.parse(recipe);
      pageOfRecipe = read?.scan?.page ?? undefined;
      // The call has the last word.
      if (page !== undefined && pageOfRecipe !== undefined) recipe = JSON.stringify({ ...read, scan: { ...read.scan, page } });
    } catch (error) {
      throw new Refusal(`${values.recipe}: the recipe is not JSON (${oneLine(error.message)})`);
    }
  }
  return { jobs, recipe, recipeFile: values.recipe, saving, folder: values["out-dir"], page: page ?? pageOfRecipe, ppi, width, report: values.report };
}

const MM_IN = { mm: 1, cm: 10, in: 25.4 };

/** "210mm", "21 cm" or "8.27in" as words and inches. */
function readWidth(words) {
  const [, number, unit] = /^\s*(\d+(?:\.\d+)?|\.\d+)\s*(mm|cm|in|inch)\s*$/i.exec(words) ?? [];
  const inches = (Number(number) * MM_IN[unit?.toLowerCase().slice(0, 2)]) / 25.4;
  if (!(inches > 0)) throw new Refusal(`--width is ${words}; it must be a length such as 210mm, 21cm or 8.27in`);
  return { words, inches };
}

/** The one path of a file that may not exist yet, so that two spellings of it compare equal. */
function canonical(file) {
  try {
    return realpathSync(file);
  } catch {
    try {
      return join(realpathSync(dirname(resolve(file))), basename(file));
    } catch {
      return resolve(file);
    }
  }
}

const oneLine = (text) => String(text).replace(/\s+/g, " ").trim();

const plainCause = {
  ENOENT: "there is no such file or folder; check the name",
  EACCES: "this may not be read or written; check its permissions",
  EPERM: "this may not be read or written; check its permissions",
  EISDIR: "this is a folder; name the files in it",
  ENOTDIR: "a part of this path is a file, not a folder; check the name",
  EEXIST: "there is a file of this name already; name another folder",
  ENOSPC: "the disk is full; make room and start again",
  EROFS: "this disk cannot be written to; name another folder with --out-dir",
  ERR_FS_FILE_TOO_LARGE: "this file is larger than 2 GB; scan in two parts or at a lower resolution",
};

/** Runs something with files; a failure of the system becomes a plain line about `file`. */
function inPlain(run, file) {
  try {
    return run();
  } catch (error) {
    throw new Refusal(`${file}: ${plainCause[error.code] ?? oneLine(error.message)}`);
  }
}

function readText(file, what) {
  return inPlain(() => readFileSync(file, "utf8"), `${what} ${file}`);
}

/** Writes a whole file or none: under another name first, then renamed. */
function writeWhole(file, data) {
  const part = join(dirname(file), `.${basename(file)}.${process.pid}.part`);
  inPlain(() => {
    try {
      writeFileSync(part, data);
      renameSync(part, file);
    } catch (error) {
      rmSync(part, { force: true });
      throw error;
    }
  }, file);
}

/** Refuses what the module will not save, such as a title of two lines, before the first scan is lifted. */
async function refuseSaving(module, saving) {
  const { check_saving, initSync } = await import("../dist/module/barewash.js");
  initSync({ module });
  try {
    check_saving(saving);
  } catch (error) {
    throw error?.code ? new Refusal(error.message) : error;
  }
}

/** Lifts one scan in a worker; the answer is { file, report } or a Refusal is thrown. */
function lift(module, job, call) {
  return new Promise((done, refuse) => {
    const worker = new Worker(new URL("./lift-worker.mjs", import.meta.url), {
      workerData: { module, scan: job.scan, recipe: call.recipe, saving: call.saving, page: call.page, ppi: call.ppi, width: call.width },
    });
    const stop = (message, cause) => refuse(new Refusal(`${job.scan}: ${message}`, { cause }));
    worker.once("message", ({ fault, ...answer }) => {
      worker.terminate();
      if (!fault) return done(answer);
      const where = fault.about === "recipe" ? `the recipe ${call.recipeFile}: ` : "";
      stop(where + (plainCause[fault.code] ?? fault.message), fault.code);
    });
    worker.once("error", (error) => stop(`the work on this scan broke off (${error.message})`, "crash"));
    worker.once("exit", () => stop("the work on this scan stopped before its end", "crash"));
  });
}

async function main(args) {
  const call = readCall(args);
  if (call.help) return void process.stdout.write(help);
  const wasm = inPlain(() => readFileSync(new URL("../dist/module/barewash_bg.wasm", import.meta.url)), "dist/module");
  const module = await WebAssembly.compile(wasm);
  await refuseSaving(module, call.saving);
  if (call.folder) inPlain(() => mkdirSync(call.folder, { recursive: true }), call.folder);

  const reports = [];
  for (const job of call.jobs) {
    try {
      const { file, report } = await lift(module, job, call);
      writeWhole(job.out, file);
      reports.push({ scan: job.scan, art: job.out, ...report });
      process.stdout.write(`${job.out}  ${report.seconds.total.toFixed(1)} s\n`);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      complain(error.message);
      reports.push({ scan: job.scan, error: { code: error.cause ?? "file", message: error.message } });
    }
  }
  const one = call.jobs.length === 1;
  if (call.report && !(one && reports[0].error)) {
    writeWhole(call.report, JSON.stringify(one ? reports[0] : reports, null, 2) + "\n");
  }
}

function complain(message) {
  process.stderr.write(`barewash: ${oneLine(message)}\n`);
  process.exitCode = 2;
}

// Files are written in one go, so between two of them is a clean place to stop.
for (const signal of ["SIGINT", "SIGTERM"]) process.once(signal, () => process.exit(130));

try {
  await main(process.argv.slice(2));
} catch (error) {
  if (!(error instanceof Refusal)) throw error;
  complain(error.message);
}
