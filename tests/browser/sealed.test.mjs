// Nothing leaves the page: no request is made, and none could be.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { root, startBrowser } from "./support/browser.mjs";
import { writeSheet } from "./support/sheets.mjs";

let browser;
before(async () => {
  browser = await startBrowser();
});
after(() => browser?.close());

test("a whole round of work makes no request but for the page itself", async () => {
  const sheet = await browser.open();
  try {
    const { page } = sheet;
    await sheet.scan(writeSheet(join(browser.home, "weed-study.png")));
    await page.keyboard.press("b");
    await page.keyboard.press("n");
    await page.click("#tab-save");
    await page.click("#save");
    await sheet.saved(/\.png$/);
    const outside = sheet.requests.filter((url) => !/^(blob|data):/.test(url));
    assert.equal(outside.length, 1, `asked for ${outside.join(", ")}`);
    assert.match(outside[0], /^file:.*barewash\.html$/);
    assert.deepEqual(sheet.complaints, []);
  } finally {
    await sheet.close();
  }
});

test("the page's own policy blocks every way out", async () => {
  const sheet = await browser.open();
  try {
    const { page } = sheet;
    const policy = await page.$eval('meta[http-equiv="Content-Security-Policy"]', (meta) => meta.content);
    assert.match(policy, /default-src 'none'/);
    assert.match(policy, /connect-src 'none'/);
    assert.doesNotMatch(policy, /https?:|\*/);

    // Data and blob addresses need no network at all: whatever stops these is the policy.
    const tried = await page.evaluate(async () => {
      const blob = URL.createObjectURL(new Blob(["x"]));
      const blocked = [];
      document.addEventListener("securitypolicyviolation", (event) => blocked.push(event.effectiveDirective));
      const outcome = async (run) => {
        try {
          await run();
          return "went through";
        } catch {
          return "blocked";
        }
      };
      const results = {
        fetchData: await outcome(() => fetch("data:text/plain,x")),
        fetchBlob: await outcome(() => fetch(blob)),
        request: await outcome(
          () =>
            new Promise((done, fail) => {
              const request = new XMLHttpRequest();
              request.onload = done;
              request.onerror = fail;
              request.open("GET", blob);
              request.send();
            }),
        ),
        script: await outcome(
          () =>
            new Promise((done, fail) => {
              const script = document.createElement("script");
              script.onload = done;
              script.onerror = fail;
              script.src = "data:text/javascript,1";
              document.head.append(script);
            }),
        ),
        frame: await outcome(
          () =>
            new Promise((done, fail) => {
              document.addEventListener("securitypolicyviolation", fail, { once: true });
              const frame = document.createElement("iframe");
              frame.onload = done;
              frame.src = "data:text/html,x";
              document.body.append(frame);
            }),
        ),
      };
      return { results, blocked };
    });
    for (const [way, outcome] of Object.entries(tried.results)) assert.equal(outcome, "blocked", way);
    assert.ok(tried.blocked.includes("connect-src"), `by the policy: ${tried.blocked}`);
  } finally {
    await sheet.close();
  }
});

test("a worker of the page is bound by the same policy", async () => {
  const sheet = await browser.open();
  try {
    const outcome = await sheet.page.evaluate(
      () =>
        new Promise((done) => {
          const text = "fetch('data:text/plain,x').then(() => postMessage('went through'), () => postMessage('blocked'))";
          const worker = new Worker(URL.createObjectURL(new Blob([text], { type: "text/javascript" })));
          worker.onmessage = (event) => done(event.data);
        }),
    );
    assert.equal(outcome, "blocked");
  } finally {
    await sheet.close();
  }
});

test("nothing in the page's own text could speak to a network", () => {
  const html = readFileSync(join(root, "dist/barewash.html"), "utf8");
  const text = html.replace(/<script type="text\/plain" id="(module-wasm|demo-sheet)">[^<]*<\/script>/g, "");
  const main = text.replace(/<script type="text\/plain" id="worker-source">[^]*?<\/script>/, "");
  for (const name of ["XMLHttpRequest", "WebSocket", "EventSource", "RTCPeerConnection", "sendBeacon", "importScripts"]) {
    assert.ok(!text.includes(name), `${name} is in the page`);
  }
  // The worker's glue holds the module's standard loader, which would use fetch; the page never calls it.
  assert.doesNotMatch(main, /\bfetch\s*\(/);
  assert.deepEqual(main.match(/\b(?:https?|wss?):\/\/[^\s"'<)]*/g)?.filter((url) => url !== "http://www.w3.org/2000/svg") ?? [], []);
});
