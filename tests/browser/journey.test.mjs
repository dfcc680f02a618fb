// From first start to a saved, printed and closed quote, as somebody does it who never opens a terminal; offline, and every page looked at on the way.

import assert from "node:assert/strict";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test as single } from "node:test";
import { barriers, once, opened, pictured, pictures, served, shopFolder, watched } from "./shop.mjs";

let shop, server, browser, context, page, seen;
const wrong = [];

/** A step of the way: where one fails there is no going on. */
let broken = false;
const test = (name, walk) => single(name, async (t) => {
  if (broken) return t.skip("a step before it failed");
  broken = true;
  await walk(t);
  broken = false;
});

/** Checks what is open, and takes its pictures. */
const look = async (name) => {
  wrong.push(...await barriers(page), ...await pictured(page, name));
};
/** Tables that have to be pushed sideways on a phone. */
const pushed = async (one, within = "") => {
  await one.setViewportSize({ width: 380, height: 760 });
  return one.evaluate((within) => [...document.querySelectorAll(`${within} .wide`)]
    .filter((table) => table.scrollWidth > table.clientWidth + 1)
    .map((table) => `${table.textContent.trim().slice(0, 60)}: ${table.scrollWidth} px`), within);
};
const press = (name) => page.getByRole("button", { name, exact: true }).first().click();
const says = (text) => page.locator("main").getByText(text).first().waitFor({ timeout: 60_000 });
const shows = (what) => page.locator(`#answer[data-shows=${what}]`).waitFor({ timeout: 60_000 });
const unfolded = async (summary) => {
  const details = page.locator("details").filter({ has: page.locator("summary", { hasText: summary }) }).last();
  if (!await details.evaluate((one) => one.open)) await details.locator("summary").first().click();
};
const air = async (temperature, humidity, pressure) => {
  await page.locator("[name=temperature]").fill(temperature);
  await page.locator("[name=relative_humidity]").fill(humidity);
  await page.locator("[name=station_pressure]").fill(pressure);
};

before(async () => {
  shop = shopFolder();
  server = await served(shop.folder);
  browser = await opened();
  ({ context, page, seen } = await watched(browser));
  page.setDefaultTimeout(20_000);
});
after(async () => {
  mkdirSync(pictures, { recursive: true });
  writeFileSync(join(pictures, "found.txt"), [...seen.complaints, ...seen.outside, ...new Set(wrong)].join("\n"));
  await browser?.close();
  server?.end();
  shop?.away();
});

test("the printed address leads to the cars, and the key leaves the address bar", async () => {
  await page.goto(server.address);
  assert.equal(new URL(page.url()).search, "");
  await says("upland estate");
  await look("cars");
});

test("a new car is written from twelve numbers", async () => {
  await page.getByRole("link", { name: "A new car" }).click();
  await page.getByLabel("Name").fill("Track toy 7");
  const numbers = {
    Cylinders: "4", Displacement: "2.0 L", "Compression ratio": "11", Redline: "7400 rpm", "Fuel, RON": "98", "Ratio of the gear": "1.36",
    "Final drive": "4.1", "Tyre: radius": "0.305 m", "Drums: moment": "110", "Drums: radius": "0.35 m",
  };
  for (const [label, value] of Object.entries(numbers)) await page.getByLabel(label).fill(value);
  await press("Write its file");
  // A number without its unit is refused, by name, and what was typed is still there.
  await says("That did not work");
  await look("new-car-refused");
  await page.getByLabel("Drums: moment").fill("110 kg m2");
  await press("Write its file");
  await says("Pulls of the car as it stands");
  assert.match(readFileSync(join(shop.folder, "track_toy_7.toml"), "utf8"), /redline = "7400 rpm"/);
});

test("logs dropped on a car are fitted, and their columns can be corrected", async () => {
  await page.getByRole("link", { name: "Cars" }).click();
  await page.getByRole("link", { name: /upland estate/ }).click();
  await air("14 °C", "82 %", "911 hPa");
  const logs = [1, 2, 3].map((n) => join(shop.folder, `upland_estate/baseline_${n}.csv`));
  await page.locator("input[type=file]").setInputFiles(logs);
  await press("Fit the car to these pulls");
  await says("Read against the fitted car");
  await look("car");
  // Three logs, two of them with heads of their own: what was understood stands there, and can be said otherwise.
  await page.locator("details.columns summary").first().click();
  await look("columns");
});

test("the middle and the range follow while a plan is written", async () => {
  await page.getByRole("link", { name: "Plan work and quote it" }).first().click();
  await page.getByLabel("Name of the work").fill("Screw blower");
  await page.getByLabel("Kind of work").selectOption("displacement blower");
  await press("Add it");
  const blower = page.locator("#change0");
  await blower.getByLabel(/rotors/i).first().selectOption("screw");
  await blower.locator("[name='0.displacement']").fill("0.8 L/rev");
  await blower.locator("[name='0.drive_ratio']").fill("1.9");
  await page.getByLabel("Kind of work").selectOption("charge cooler");
  await press("Add it");
  await page.locator("[name='1.cooling']").selectOption("air to water");
  await page.locator("[name='1.effectiveness']").fill("75 %");
  await page.locator("[name='1.reference_flow']").fill("200 g/s");
  await page.locator("[name='1.pressure_drop']").fill("5 kPa");
  await air("6 °C", "45 %", "917 hPa");
  await page.getByLabel("Hoped for").fill("200 kW");
  await page.getByLabel("For whom").fill("A. Customer");
  await shows("range");
  await page.locator("#answer").getByText(/^Promise/).waitFor({ timeout: 30_000 });
  await look("plan");
  assert.deepEqual(await pushed(page, "#answer"), []);
  await page.setViewportSize({ width: 1280, height: 900 });
});

test("a mistake is told where it was made, and taking it back mends it", async () => {
  const ratio = page.locator("[name='0.drive_ratio']");
  await ratio.fill("<b>quick</b>");
  await page.locator("#answer").getByText("That did not work").waitFor();
  await look("plan-mistaken");
  await ratio.fill("1.9");
  await page.locator("#answer").getByText(/^Promise/).waitFor({ timeout: 30_000 });
});

test("what reaches a power, and pulls in a row", async () => {
  await unfolded("What reaches a power");
  await page.getByLabel("Peak to be read").fill("205 kW");
  await page.getByLabel("by changing the").selectOption("drive-ratio");
  await press("What does it take?");
  await page.locator("#more").getByText(/205 kW|out of reach|The plan does it/).first().waitFor({ timeout: 90_000 });
  await page.getByLabel("How many").fill("4");
  await page.getByLabel("Rest between them").fill("90 s");
  await press("Pull after pull");
  await page.locator("#more").getByText("Pulls in a row").first().waitFor({ timeout: 60_000 });
  await look("row");
});

test("plans stand side by side", async () => {
  await press("Set beside others");
  await says("The range of each");
  await press("Open it: Screw blower");
  await page.getByLabel("Name of the work").fill("Smaller pulley");
  await page.locator("[name='0.drive_ratio']").fill("2.1");
  await press("Set beside others");
  await page.getByRole("columnheader", { name: "Smaller pulley" }).waitFor({ timeout: 60_000 });
  await press("Open it: Screw blower");
  await page.getByLabel("Name of the work").fill("Larger pulley, for a summer with hot days");
  await page.locator("[name='0.drive_ratio']").fill("1.7");
  await press("Set beside others");
  await page.getByRole("columnheader", { name: /Larger pulley/ }).waitFor({ timeout: 60_000 });
  await look("beside");
  assert.deepEqual(await pushed(page), []);
  await page.setViewportSize({ width: 1280, height: 900 });
});

test("the weather of a place, with its progress, ended early", async () => {
  await press("Open it: Screw blower");
  await unfolded("What reaches a power");
  await press("How far does it spread?");
  await page.locator("input[type=file]").setInputFiles(join(shop.folder, "upland_estate/station_year.csv"));
  await page.getByLabel("A number you promised").fill("190 kW");
  await press("Draw it");
  await page.locator("progress").waitFor();
  await page.getByText(/\d+ of \d+ cars drawn/).waitFor({ timeout: 60_000 });
  await look("spread-running");
  await page.locator("#run").getByText(/pulls in 100 over these hours/).first().waitFor({ timeout: 120_000 });
  await look("spread");
});

test("a sheet is printed and the quote kept", async () => {
  await page.goto(new URL("/", server.address).href);
  await page.getByRole("link", { name: /upland estate/ }).click();
  await page.getByRole("link", { name: "Plans side by side" }).click();
  await press("Open it: Screw blower");
  const [sheet] = await Promise.all([context.waitForEvent("page"), press("Sheet to print")]);
  await sheet.getByText("A. Customer").waitFor({ timeout: 60_000 });
  // The engineer's side too.
  assert.deepEqual(await pushed(sheet), []);
  assert.equal(await sheet.evaluate(() => document.documentElement.scrollWidth), 380);
  // One side of A4 less its margins, 182 by 279 mm, for the customer.
  await sheet.emulateMedia({ media: "print" });
  await sheet.setViewportSize({ width: 688, height: 1054 });
  const side = await sheet.evaluate(() => document.querySelector(".customer").getBoundingClientRect().height);
  assert.ok(side > 500 && side <= 1054, `${side} px`);
  await sheet.pdf({ path: join(pictures, "sheet.pdf"), preferCSSPageSize: true });
  await sheet.close();
  await press("Keep in the job book");
  await says("is in the job book with everything");
  await page.getByRole("link", { name: "Open the quote" }).click();
  await says("Close the job");
  await page.getByLabel("A remark").fill("keys under the mat");
  await press("Add it");
  await says("keys under the mat");
  await look("quote");
});

test("the job is closed with the pulls after the work, and printed", async () => {
  await air("6 °C", "45 %", "917 hPa");
  await page.locator("input[type=file]").setInputFiles([1, 2, 3].map((n) => join(shop.folder, `upland_estate/after_${n}.csv`)));
  await press("Close the job");
  await says("Predicted and read");
  await page.emulateMedia({ media: "print" });
  await page.pdf({ path: join(pictures, "closed.pdf"), format: "A4" });
  await page.emulateMedia({ media: "screen" });
  await look("closed");
  await page.getByRole("link", { name: "Job book" }).first().click();
  await says("1 of 1 readings");
  await look("book");
  const list = JSON.parse(once(shop.folder, "book", "list", "--json"));
  assert.equal(list.quotes.length, 1);
  assert.ok(list.quotes[0].outcome.read_w > 190e3, JSON.stringify(list.quotes[0].outcome));
});

test("an odd pull is explained", async () => {
  await page.getByRole("link", { name: "Cars" }).click();
  await page.getByRole("link", { name: /upland estate/ }).click();
  await page.getByRole("link", { name: "A pull looks wrong" }).click();
  await air("14 °C", "82 %", "911 hPa");
  await page.getByLabel("The car was not moved").check();
  await page.getByLabel("The air in the room is as it was").check();
  await page.locator("input[type=file]").setInputFiles(join(shop.folder, "upland_estate/odd.csv"));
  await press("Explain it");
  await page.locator("#answer").getByText(/chance/).first().waitFor({ timeout: 90_000 });
  await look("odd");
});

test("the keyboard alone reaches a range", async () => {
  await page.goto(new URL("/", server.address).href);
  await page.keyboard.press("Tab");
  assert.equal(await page.evaluate(() => document.activeElement.textContent), "To the content");
  await page.goto(new URL("/car/0/plan", server.address).href);
  await page.getByLabel("Kind of work").focus();
  await page.keyboard.type("redl");
  await page.keyboard.press("Tab");
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => document.activeElement.name === "0.speed");
  await page.keyboard.type("7600 rpm");
  await page.locator("#answer").getByText(/^Promise/).waitFor({ timeout: 60_000 });
});

test("no page complained, asked outside, or has a barrier", () => {
  // A refused form is an answer of its own kind, which the browser notes.
  const complaints = seen.complaints.filter((text) => !/status of 422/.test(text));
  assert.deepEqual(complaints, []);
  assert.deepEqual(seen.outside, []);
  assert.deepEqual([...new Set(wrong)], []);
});
