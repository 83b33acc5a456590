// What is looked at on every sheet: rules of WCAG 2.2 AA, widths, targets for a glove, pictures in colour and grey.
import { AxeBuilder } from "@axe-core/playwright";

export const sizes = { phone: [360, 740], tablet: [800, 600], desk: [1280, 800] };
const rules = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
// What is pressed with a glove: 48 px each way. A link within a sentence is read, not pressed.
const small = () => [...document.querySelectorAll("nav a, button, .press, .whole, .inner, input:not([type=hidden]), select, textarea")]
  .filter((element) => element.offsetParent !== null)
  .map((element) => [element, (element.closest("label") ?? element).getBoundingClientRect()])
  .filter(([, box]) => box.height < 47.5 || box.width < 24)
  .map(([element, box]) => `${element.outerHTML.slice(0, 80)} is ${Math.round(box.width)} × ${Math.round(box.height)}`);

// Whatever a page fetches from elsewhere or complains of goes into `wrong`.
export function listen(page, base, wrong) {
  page.on("request", (request) => {
    if (!request.url().startsWith(base)) wrong.push(`${page.url()} asked for ${request.url()}`);
  });
  page.on("console", (message) => {
    if (message.type() === "error" && !/status of 4\d\d/.test(message.text())) wrong.push(`${page.url()}: ${message.text()}`);
  });
  page.on("pageerror", (error) => wrong.push(`${page.url()}: ${error}`));
}

// Looks at a page as it stands.
export async function look(page, name, size, folder, wrong) {
  await page.evaluate(() => scrollTo(0, 0));
  const broken = await page.evaluate(() => [...document.images].filter((image) => image.complete && !image.naturalWidth).map((image) => image.src));
  for (const image of broken) wrong.push(`${name} (${size}): ${image} is not shown`);
  const found = await new AxeBuilder({ page }).withTags(rules).analyze();
  for (const rule of found.violations) {
    for (const node of rule.nodes) wrong.push(`${name} (${size}): ${rule.id}: ${rule.help}\n    ${node.html.slice(0, 160)}`);
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  if (wide > 0) wrong.push(`${name} (${size}): ${wide} px wider than the window`);
  for (const what of await page.evaluate(small)) wrong.push(`${name} (${size}): ${what}`);
  await page.screenshot({ path: `${folder}/${name}-${size}.png`, fullPage: true });
  const inspector = await page.context().newCDPSession(page);
  await inspector.send("Emulation.setEmulatedVisionDeficiency", { type: "achromatopsia" });
  await page.screenshot({ path: `${folder}/${name}-${size}-grey.png`, fullPage: true });
  await inspector.send("Emulation.setEmulatedVisionDeficiency", { type: "none" });
  await inspector.detach();
}
