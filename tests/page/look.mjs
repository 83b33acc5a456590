// Looks at every sheet of the page in a browser: pictures at three sizes, in colour and in grey, and
// a check against WCAG 2.2 AA. Ends with 1 if a sheet breaks a rule, fetches something from elsewhere,
// is wider than its window, or has a target that is too small for a glove.
//
//   node tests/page/look.mjs http://127.0.0.1:8377 FOLDER SHEET…
//
// SHEET is NAME=ADDRESS; CHROMIUM names another browser than Debian's.
import { mkdir } from "node:fs/promises";
import { AxeBuilder } from "@axe-core/playwright";
import { chromium } from "playwright-core";

const [base, folder, ...sheets] = process.argv.slice(2);
if (!sheets.length) {
  console.error("usage: look.mjs BASE FOLDER NAME=ADDRESS…");
  process.exit(2);
}
const sizes = { phone: [360, 740], tablet: [800, 600], desk: [1280, 800] };
const rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
// What is pressed with a glove: 48 px each way. A link within a sentence is read, not pressed.
const small = () => [...document.querySelectorAll("nav a, button, .press, .whole, .inner, input:not([type=hidden]), select, textarea")]
  .filter((element) => element.offsetParent !== null)
  .map((element) => [element, (element.closest("label") ?? element).getBoundingClientRect()])
  .filter(([, box]) => box.height < 47.5 || box.width < 24)
  .map(([element, box]) => `${element.outerHTML.slice(0, 80)} is ${Math.round(box.width)} × ${Math.round(box.height)}`);

await mkdir(folder, { recursive: true });
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium" });
const wrong = [];
for (const [size, [width, height]] of Object.entries(sizes)) {
  const context = await browser.newContext({ viewport: { width, height }, javaScriptEnabled: true });
  const page = await context.newPage();
  page.on("request", (request) => {
    if (!request.url().startsWith(base)) wrong.push(`${page.url()} asked for ${request.url()}`);
  });
  page.on("console", (message) => {
    if (message.type() === "error" && !/status of 4\d\d/.test(message.text())) wrong.push(`${page.url()}: ${message.text()}`);
  });
  page.on("pageerror", (error) => wrong.push(`${page.url()}: ${error}`));
  for (const sheet of sheets) {
    const [name, ...address] = sheet.split("=");
    await page.goto(base + address.join("="), { waitUntil: "load" });
    // Pictures further down are loaded when they come into sight.
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    await page.waitForFunction(() => [...document.images].every((image) => image.complete));
    await page.evaluate(() => scrollTo(0, 0));
    const broken = await page.evaluate(() => [...document.images].filter((image) => !image.naturalWidth).map((image) => image.src));
    for (const image of broken) wrong.push(`${name} (${size}): ${image} is not shown`);
    const found = await new AxeBuilder({ page }).withTags(rules).analyze();
    for (const rule of found.violations) {
      for (const node of rule.nodes) wrong.push(`${name} (${size}): ${rule.id}: ${rule.help}\n    ${node.html.slice(0, 160)}`);
    }
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    if (wide > 0) wrong.push(`${name} (${size}): ${wide} px wider than the window`);
    for (const what of await page.evaluate(small)) wrong.push(`${name} (${size}): ${what}`);
    await page.screenshot({ path: `${folder}/${name}-${size}.png`, fullPage: true });
    const inspector = await context.newCDPSession(page);
    await inspector.send("Emulation.setEmulatedVisionDeficiency", { type: "achromatopsia" });
    await page.screenshot({ path: `${folder}/${name}-${size}-grey.png`, fullPage: true });
    await inspector.send("Emulation.setEmulatedVisionDeficiency", { type: "none" });
  }
  await context.close();
}
await browser.close();
for (const what of wrong) console.error(what);
console.log(`${sheets.length} sheets at ${Object.keys(sizes).length} sizes looked at, ${wrong.length} findings; pictures in ${folder}`);
process.exit(wrong.length ? 1 : 0);
