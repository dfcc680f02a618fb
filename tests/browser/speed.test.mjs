// How soon the middle and the range follow a change of the plan, from the key to the picture, in the browser, on the demo cars; and what the server takes
// of the machine's memory. The figures hold for the release build on a machine with nothing else to do: PULLCAST_BOUNDS=off measures without judging.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { loadavg } from "node:os";
import { after, before, test } from "node:test";
import { opened, served, shopFolder, watched } from "./shop.mjs";

const MIDDLE_MS = 200;
const RANGE_MS = 1000;
const MOST_MB = 300;
const judged = process.env.PULLCAST_BOUNDS !== "off";

let shop, server, browser, page;
before(async () => {
  shop = shopFolder();
  server = await served(shop.folder);
  browser = await opened();
  ({ page } = await watched(browser));
  await page.goto(server.address);
});
after(async () => {
  await browser?.close();
  server?.end();
  shop?.away();
});

/** Time from an input to the frame after the answer stands in the page, for the middle and for the range. */
const timed = (name, value) => page.evaluate(([name, value]) => new Promise((done) => {
  const answer = document.getElementById("answer");
  const times = {};
  delete answer.dataset.shows;
  const start = performance.now();
  const watch = new MutationObserver(() => {
    const what = answer.dataset.shows;
    if (!what || times[what]) return;
    times[what] = -1;
    requestAnimationFrame(() => setTimeout(() => {
      times[what] = performance.now() - start;
      if (times.middle > 0 && times.range > 0) {
        watch.disconnect();
        done(times);
      }
    }));
  });
  watch.observe(answer, { attributes: true, attributeFilter: ["data-shows"] });
  const field = document.querySelector(`[name="${name}"]`);
  field.value = value;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}), [name, value]);

const rested = () => page.locator("#answer:not([aria-busy])[data-shows=range]").waitFor({ timeout: 60_000 });
const middle = (times) => times.toSorted((a, b) => a - b)[Math.floor(times.length / 2)];

/** Demo cars with what is planned, and the field that is turned. */
const CASES = [
  { car: /upland estate/, visit: "baseline.toml", plan: [["displacement blower", { rotors: "screw", displacement: "0.8 L/rev", drive_ratio: "1.9" }],
    ["charge cooler", { cooling: "air to water", effectiveness: "75 %", reference_flow: "200 g/s", pressure_drop: "5 kPa" }]],
    turn: ["0.drive_ratio", (n) => String(1.8 + 0.02 * n)] },
  { car: /coupe/, visit: "baseline.toml", plan: [["compression ratio", { ratio: "11.6" }], ["headers", { primary_from: "36 mm", primary_to: "42 mm" }],
    ["redline", { speed: "7700 rpm" }], ["throttle", { bore_from: "60 mm", bore_to: "65 mm" }]],
    turn: ["0.ratio", (n) => String(11.2 + 0.05 * n)] },
  { car: /turbo four/, plan: [["boost", { boost: "100 kPa gauge" }]], turn: ["0.boost", (n) => `${90 + n} kPa gauge`] },
];

for (const { car, visit, plan, turn } of CASES) {
  test(`the answer follows a change: ${car.source}`, async (t) => {
    await page.goto(new URL("/", server.address).href);
    await page.getByRole("link", { name: car }).first().click();
    if (visit) {
      await page.getByLabel("A visit on file").selectOption(visit);
      await page.getByRole("button", { name: "Fit the car to these pulls" }).click();
      await page.getByText("Read against the fitted car").first().waitFor({ timeout: 60_000 });
    }
    await page.getByRole("link", { name: "Plan work and quote it" }).click();
    for (const [at, [kind, fields]] of plan.entries()) {
      await page.getByLabel("Kind of work").selectOption(kind);
      await page.getByRole("button", { name: "Add it" }).click();
      await page.locator(`#change${at}`).waitFor();
      for (const [key, value] of Object.entries(fields)) {
        const field = page.locator(`[name="${at}.${key}"]`);
        await ((await field.evaluate((f) => f.tagName)) === "SELECT" ? field.selectOption(value) : field.fill(value));
      }
    }
    await page.locator("#answer").getByText(/^Promise/).waitFor({ timeout: 60_000 });
    const all = [];
    for (let n = 1; n <= 9; n += 1) {
      await rested();
      all.push(await timed(turn[0], turn[1](n)));
    }
    const [middles, ranges] = ["middle", "range"].map((what) => all.map((times) => times[what]));
    const told = (times) => `median ${middle(times).toFixed(0)} ms, worst ${Math.max(...times).toFixed(0)} ms`;
    t.diagnostic(`middle: ${told(middles)}; range: ${told(ranges)}; load ${loadavg()[0].toFixed(2)}`);
    if (judged) {
      assert.ok(Math.max(...middles) < MIDDLE_MS, `middle: ${told(middles)}`);
      assert.ok(Math.max(...ranges) < RANGE_MS, `range: ${told(ranges)}`);
    }
  });
}

test("the server stays small", (t) => {
  const status = readFileSync(`/proc/${server.pid}/status`, "utf8");
  const most = Number(/VmHWM:\s+(\d+) kB/.exec(status)[1]) / 1024;
  t.diagnostic(`most memory: ${most.toFixed(0)} MB`);
  assert.ok(most < MOST_MB, `${most} MB`);
});
