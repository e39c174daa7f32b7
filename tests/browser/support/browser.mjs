// Opens the finished page, dist/barewash.html, from disk in a real browser, and watches what it does.

import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { setTimeout as wait } from "node:timers/promises";
import { fileURLToPath, pathToFileURL } from "node:url";
import puppeteer from "puppeteer-core";

export const root = join(dirname(fileURLToPath(import.meta.url)), "../../..");
const built = join(root, "dist/barewash.html");

/** How long a lift of a small sheet may take on a slow and busy machine before the test gives up; milliseconds. */
const PATIENCE = 120_000;

/** Starts a browser with a fresh profile. Call `close` when done. */
export async function startBrowser() {
  if (!existsSync(built)) throw new Error("there is no dist/barewash.html: run scripts/build first");
  const home = mkdtempSync(join(tmpdir(), "barewash-browser-"));
  const browser = await puppeteer.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    userDataDir: join(home, "profile"),
    args: [
      "--headless=new",
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
    ],
  });
  return {
    home,
    /** @param {Parameters<typeof openPage>[1]} [options] */
    open: (options) => openPage(browser, options),
    async close() {
      await browser.close();
      rmSync(home, { recursive: true, force: true, maxRetries: 5 });
    },
  };
}

/**
 * @param {import("puppeteer-core").Browser} browser
 * @param {{width?: number, height?: number, features?: {name: string, value: string}[], file?: string}} [options]
 */
async function openPage(browser, { width = 1366, height = 700, features = [], file = built } = {}) {
  const page = await browser.newPage();
  await page.setViewport({ width, height });
  const session = await page.createCDPSession();
  if (features.length > 0) await session.send("Emulation.setEmulatedMedia", { features });
  const downloads = mkdtempSync(join(tmpdir(), "barewash-saved-"));
  await session.send("Browser.setDownloadBehavior", { behavior: "allow", downloadPath: downloads });

  /** @type {string[]} everything the page complained about */
  const complaints = [];
  /** @type {string[]} */
  const requests = [];
  page.on("console", (message) => {
    if (message.type() === "error") complaints.push(message.text());
  });
  page.on("pageerror", (error) => complaints.push(error.message));
  page.on("request", (request) => requests.push(request.url()));
  page.setDefaultTimeout(PATIENCE);
  await page.goto(pathToFileURL(file).href);

  const sheet = {
    page,
    complaints,
    requests,
    /** @param {"empty"|"reading"|"preview"|"lifted"} state */
    state: (state) => page.waitForFunction((wanted) => document.body.dataset.state === wanted, {}, state),
    /** Lets files go over the page, as a hand with a mouse would. @param {string[]} files */
    async drop(files) {
      const data = { items: [], files, dragOperationsMask: 1 };
      for (const type of ["dragEnter", "dragOver", "drop"]) {
        await session.send("Input.dispatchDragEvent", { type, x: 300, y: 200, data });
      }
    },
    /** Opens a scan and waits until it is lifted. @param {string} file */
    async scan(file) {
      await sheet.drop([file]);
      await page.waitForFunction(() => document.body.dataset.state !== "empty");
      await sheet.state("lifted");
    },
    /** What the page's choice of files offers after a press. @param {() => Promise<void>} press */
    async chooser(press) {
      const opened = page.waitForFileChooser();
      // The browser has to know first that the choice is ours: without this answer the press may overtake the wish.
      await session.send("Page.setInterceptFileChooserDialog", { enabled: true });
      await press();
      return opened;
    },
    /** Waits for a new file among the saved ones. @param {RegExp} name @returns {Promise<{name: string, path: string, bytes: Buffer}>} */
    async saved(name) {
      for (let waited = 0; waited < PATIENCE; waited += 50) {
        const done = readdirSync(downloads).find((one) => name.test(one) && !one.endsWith(".crdownload"));
        const bytes = done && readFileSync(join(downloads, done));
        // The browser reserves the name with an empty file before the saved one takes its place.
        if (bytes?.length) return { name: done, path: join(downloads, done), bytes };
        await wait(50);
      }
      throw new Error(`nothing like ${name} was saved; there is ${readdirSync(downloads).join(", ") || "nothing"}`);
    },
    /** What the canvas shows, as one string to compare. */
    look: () => page.$eval("#picture", (canvas) => canvas.toDataURL()),
    /** Waits until the canvas shows something else. @param {string} before */
    changed: (before) =>
      page.waitForFunction((old) => document.querySelector("#picture").toDataURL() !== old, { polling: 50 }, before),
    /** Text of an element as it is shown. @param {string} selector */
    words: (selector) => page.$eval(selector, (element) => element.innerText.replace(/\s+/g, " ").trim()),
    /** Value of a field. @param {string} selector */
    value: (selector) => page.$eval(selector, (field) => field.value),
    /**
     * Where a sheet pixel lies on the screen while the sheet is fitted.
     * @param {number} x @param {number} y @param {{width: number, height: number}} size of the sheet
     */
    async place(x, y, size) {
      const box = await (await page.$("#stage")).boundingBox();
      const scale = Math.min(1, (box.width - 40) / size.width, (box.height - 40) / size.height);
      return [
        box.x + box.width / 2 + (x - size.width / 2) * scale,
        box.y + box.height / 2 + (y - size.height / 2) * scale,
      ];
    },
    async close() {
      await page.close();
      rmSync(downloads, { recursive: true, force: true });
    },
  };
  return sheet;
}
