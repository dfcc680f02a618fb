// A shop in a folder of its own, its server, and a browser that reaches nothing but that server.

import { execFileSync, spawn } from "node:child_process";
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { delimiter, dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const here = dirname(fileURLToPath(import.meta.url));
export const root = resolve(here, "../..");
export const pictures = join(root, "target/browser");
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** The program: `PULLCAST`, or the release build, or that of the tests. */
const program = [process.env.PULLCAST, join(root, "target/release/pullcast"), join(root, "target/debug/pullcast")]
  .find((path) => path && existsSync(path));
/** The browser: `CHROMIUM`, or the one on the path. */
const browserAt = process.env.CHROMIUM ?? process.env.PATH.split(delimiter)
  .flatMap((folder) => ["chromium", "chromium-browser"].map((name) => join(folder, name)))
  .find((path) => existsSync(path));

/** What a browser is told so that it asks for nothing outside this machine, and does nothing by itself. */
const QUIET = [
  "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
  "--no-proxy-server", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--no-first-run",
  "--no-sandbox",
];

/** A copy of the demo shop, and what to do at its end. */
export const shopFolder = () => {
  const folder = mkdtempSync(join(tmpdir(), "shop-"));
  cpSync(join(root, "scenarios"), folder, { recursive: true });
  return { folder, away: () => rmSync(folder, { recursive: true, force: true }) };
};

/** The program run once in a folder. */
export const once = (folder, ...words) => execFileSync(program, words, { cwd: folder, encoding: "utf8", stdio: ["ignore", "pipe", "pipe"] });

/** A server in a folder: the addresses that it printed, and its process. */
export const served = async (folder, ...words) => {
  const child = spawn(program, ["serve", ...words], { cwd: folder, stdio: ["ignore", "pipe", "ignore"] });
  const wanted = words.includes("--listen") ? 2 : 1;
  const lines = await new Promise((done, failed) => {
    let text = "";
    child.stdout.on("data", (piece) => {
      text += piece;
      const whole = text.split("\n").slice(0, -1);
      if (whole.length >= wanted) done(whole);
    });
    child.once("exit", () => failed(new Error(`the server ended: ${text}`)));
  });
  return { address: lines[0], tablet: lines[1], pid: child.pid, end: () => child.kill() };
};

export const opened = () => chromium.launch({ executablePath: browserAt, args: QUIET });

/** A page of which every complaint and every request is noted. */
export const watched = async (browser, settings = {}) => {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, ...settings });
  const page = await context.newPage();
  const seen = { complaints: [], outside: [] };
  const listen = (one) => {
    one.on("console", (message) => {
      if (["error", "warning"].includes(message.type())) seen.complaints.push(`${one.url()}: ${message.text()}`);
    });
    one.on("pageerror", (error) => seen.complaints.push(`${one.url()}: ${error}`));
  };
  listen(page);
  context.on("page", listen);
  context.on("request", (request) => {
    if (!/^(http:\/\/127\.0\.0\.1:|about:|data:)/.test(request.url())) seen.outside.push(request.url());
  });
  return { context, page, seen };
};

/** What an accessibility check finds on a page, one line each; rules of WCAG 2.2, levels A and AA, and good practice. */
export const barriers = async (page) => {
  // The page's own policy lets no foreign script in; the driver's hand goes round it.
  await page.evaluate(axe);
  const found = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ["violations"] }));
  return found.violations.map((v) => `${page.url()}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(" | ")}`);
};

/** What is smaller than a gloved finger, and what sticks out of the window. */
export const unhandy = (page) => page.evaluate(() => {
  const out = [];
  for (const one of document.querySelectorAll("a, button, input:not([type=hidden]), select, summary")) {
    const box = one.getBoundingClientRect();
    const skipped = box.width === 0 || one.closest(".skip") || one.matches(".tick input") || one.matches("p a:not(.button)");
    if (!skipped && box.height < 43.5) out.push(`${one.outerHTML.slice(0, 100)}: ${Math.round(box.height)} px high`);
  }
  const wide = document.documentElement.scrollWidth - innerWidth;
  if (wide > 0) out.push(`the page is ${wide} px wider than the window`);
  return out;
});

export const SIZES = { phone: [380, 760], tablet: [820, 1180], desktop: [1366, 900], wall: [3840, 2160] };

/** Pictures of a page at every size, the whole of it; light, and dark at tablet size. */
export const pictured = async (page, name) => {
  mkdirSync(pictures, { recursive: true });
  const wrong = [];
  for (const [size, [width, height]] of Object.entries(SIZES)) {
    await page.setViewportSize({ width, height });
    await page.evaluate(() => scrollTo(0, 0));
    wrong.push(...(await unhandy(page)).map((what) => `${name}, ${size}: ${what}`));
    await page.screenshot({ path: join(pictures, `${name}-${size}.png`), fullPage: size === "phone" || size === "tablet" });
  }
  const [width, height] = SIZES.tablet;
  await page.setViewportSize({ width, height });
  await page.emulateMedia({ colorScheme: "dark" });
  wrong.push(...(await barriers(page)).map((what) => `dark: ${what}`));
  await page.screenshot({ path: join(pictures, `${name}-dark.png`), fullPage: true });
  await page.emulateMedia({ colorScheme: "light" });
  await page.setViewportSize({ width: 1280, height: 900 });
  return wrong;
};
