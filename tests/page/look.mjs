// Looks at every sheet of the page in a browser: pictures at three sizes, in colour and in grey, and
// a check against WCAG 2.2 AA. Ends with 1 if a sheet breaks a rule, fetches something from elsewhere,
// is wider than its window, or has a target that is too small for a glove.
//
//   node tests/page/look.mjs http://127.0.0.1:8377 FOLDER SHEET…
//
// SHEET is NAME=ADDRESS; CHROMIUM names another browser than Debian's.
import { mkdir } from "node:fs/promises";
import { chromium } from "playwright-core";
import { listen, look, sizes } from "./sight.mjs";

const [base, folder, ...sheets] = process.argv.slice(2);
if (!sheets.length) {
  console.error("usage: look.mjs BASE FOLDER NAME=ADDRESS…");
  process.exit(2);
}
await mkdir(folder, { recursive: true });
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium" });
const wrong = [];
for (const [size, [width, height]] of Object.entries(sizes)) {
  const context = await browser.newContext({ viewport: { width, height }, javaScriptEnabled: true });
  const page = await context.newPage();
  listen(page, base, wrong);
  for (const sheet of sheets) {
    const [name, ...address] = sheet.split("=");
    await page.goto(base + address.join("="), { waitUntil: "load" });
    // Pictures further down are loaded when they come into sight.
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    await page.waitForFunction(() => [...document.images].every((image) => image.complete));
    await page.evaluate(() => scrollTo(0, 0));
    await look(page, name, size, folder, wrong);
  }
  await context.close();
}
await browser.close();
for (const what of wrong) console.error(what);
console.log(`${sheets.length} sheets at ${Object.keys(sizes).length} sizes looked at, ${wrong.length} findings; pictures in ${folder}`);
process.exit(wrong.length ? 1 : 0);
