// Does with a browser what a person does: pairs it, fills in a job sheet with a mistake and without, keeps a
// photo, looks along a recording, judges it again, withdraws a paper, works without a mouse. Ends with 1 if something does not come out as it should.
//
//   node tests/page/walk.mjs http://127.0.0.1:8377 TAG PAPER PICTURE with|without-script [CODE]
import { chromium } from "playwright-core";

const [base, tag, paper, picture, script, code] = process.argv.slice(2);
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium" });
const context = await browser.newContext({ viewport: { width: 800, height: 600 }, javaScriptEnabled: script === "with" });
const page = await context.newPage();
page.on("dialog", (dialog) => dialog.accept());
page.setDefaultTimeout(10000);

async function must(what, holds) {
  if (!(await holds)) throw new Error(`${what}; at ${page.url()}:\n${(await page.locator("main").innerText()).slice(0, 400)}`);
}
const shows = (text) => page.getByText(text).first().waitFor().then(() => true, () => false);
const press = (name) => page.getByRole("button", { name, exact: true }).last().click();

// The stretch that is shown, s.
const stretch = async () => {
  const said = await page.locator("figure.chart").evaluate((figure) => [figure.dataset.from, figure.dataset.until]);
  return said.map(Number);
};
// The stretch comes to lie about there.
async function comesTo(what, from, until) {
  await page.waitForURL(/from=/);
  const [a, b] = await stretch();
  const near = (until - from) * 0.05;
  await must(`${what}: ${a} to ${b} is about ${from} to ${until}`, Math.abs(a - from) < near && Math.abs(b - until) < near);
}

// Looks along the recording of a paper.
async function along(address) {
  await page.goto(address);
  await page.getByRole("link", { name: "Look at the recording" }).click();
  const whole = await stretch();
  const long = whole[1] - whole[0];
  await page.getByRole("link", { name: "Closer" }).click();
  await comesTo("a link leads closer", whole[0] + long / 4, whole[0] + (long * 3) / 4);
  await page.goBack();
  await must("going back shows all of it", (await stretch())[1] === whole[1]);
  await page.getByLabel("From", { exact: true }).fill("1:00");
  await page.getByLabel("Until", { exact: true }).fill("2 min");
  await page.getByLabel("Value at").fill("1:30");
  await page.getByLabel("position").uncheck();
  await press("Show it");
  await comesTo("the form leads to a stretch", 60, 120);
  await must("values are told", shows("one reading of each channel"));
  await must("a channel stays away", page.getByLabel("position").isChecked().then((on) => !on));
  await page.getByRole("link", { name: "All of it" }).click();
  if (script === "with") await byHand();
  await page.getByLabel("Or a limit for").selectOption("cap_loss");
  await page.getByLabel("At most").fill("50 mL/min");
  await press("Judge again");
  await must("a missing role is said", shows("Write your role"));
  await page.locator("#by").fill("bench technician");
  await press("Judge again");
  await must("both judgements stand", shows("The first judgement stands."));
}

// Draws along the picture with the mouse and with a finger, and reads values.
async function byHand() {
  const stage = page.locator(".stage");
  const picture = page.locator(".stage img");
  const readout = page.locator("#readout");
  // Where a part of the plot is on the screen.
  const place = async (part) => {
    await stage.evaluate((element) => element.scrollIntoView({ block: "center" }));
    const box = await picture.boundingBox();
    const [left, right] = (await page.locator("figure.chart").getAttribute("data-wide")).split(" ").map((text) => Number(text) / 1000);
    return [box.x + box.width * (left + part * (right - left)), box.y + box.height / 2];
  };
  const whole = await stretch();
  const at = (part) => whole[0] + part * (whole[1] - whole[0]);
  await must("values stand beside the picture", readout.isVisible());
  await page.mouse.move(...(await place(0.1)));
  const early = await readout.innerText();
  await page.mouse.move(...(await place(0.9)));
  await must("values follow the pointer", readout.innerText().then((late) => late !== early && late.includes("bar")));
  const line = page.getByRole("slider");
  await line.focus();
  const before = await line.getAttribute("aria-valuetext");
  await page.keyboard.press("ArrowLeft");
  await must("values follow the keys", line.getAttribute("aria-valuetext").then((after) => after !== before));
  // A touch of the mouse reads and leads nowhere.
  await page.mouse.down();
  await page.mouse.up();
  await must("a click leads nowhere", (await stretch())[1] === whole[1]);
  await page.mouse.move(...(await place(0.75)));
  await page.mouse.down();
  await page.mouse.move(...(await place(0.5)), { steps: 4 });
  await must("the stretch is marked while it is drawn", page.locator(".band").isVisible());
  await page.mouse.up();
  await comesTo("the mouse leads closer, from right to left", at(0.5), at(0.75));
  await page.reload();
  await comesTo("the address says the stretch", at(0.5), at(0.75));
  await page.getByRole("link", { name: "All of it" }).click();
  const finger = await context.newCDPSession(page);
  const touch = async (type, part) => {
    const [x, y] = part === null ? [0, 0] : await place(part);
    await finger.send("Input.dispatchTouchEvent", { type, touchPoints: part === null ? [] : [{ x, y }] });
  };
  await must("values stand beside the picture", readout.locator(".figure").first().waitFor().then(() => true));
  await touch("touchStart", 0.2);
  const touched = await readout.innerText();
  for (const part of [0.25, 0.3, 0.35, 0.4]) await touch("touchMove", part);
  await must("values follow the finger", readout.innerText().then((text) => text !== touched));
  await touch("touchEnd", null);
  await comesTo("a finger leads closer", at(0.2), at(0.4));
  await page.getByRole("link", { name: "All of it" }).click();
}

try {
  await page.goto(base + "/units");
  if (code) {
    await page.getByLabel("Code").fill("1");
    await press("Pair");
    await must("a wrong code is said", shows("This is not the code."));
    await page.getByLabel("Code").fill(code);
    await press("Pair");
    await page.goto(base + "/units");
  }
  await must("units are listed", page.getByRole("heading", { name: "Units" }).isVisible());
  // Without a mouse: the first stop leads past the index, the focus is seen.
  await page.goto(base + "/units");
  await page.keyboard.press("Tab");
  await must("the first stop leads to the sheet", page.locator(".skip:focus").isVisible());
  await page.keyboard.press("Enter");
  await page.keyboard.press("Tab");
  const outline = page.locator(":focus").evaluate((element) => getComputedStyle(element).outlineStyle);
  await must("the focus is seen", outline.then((style) => style === "solid"));
  await page.locator("#words").fill("nothing of this kind");
  await page.keyboard.press("Enter");
  await must("a search is answered", shows("Nothing has all of these words."));

  await page.goto(`${base}/job/new?tag=${tag}`);
  await page.getByLabel("What is wrong").fill("creeps <down>");
  await press("One more finding");
  await must("what was typed is there", page.getByLabel("What is wrong").inputValue().then((text) => text === "creeps <down>"));
  await press("Enter the sheet");
  await must("what is missing is said", shows("must not be empty"));
  await must("what was typed is there", page.getByLabel("What is wrong").inputValue().then((text) => text === "creeps <down>"));
  await page.locator("#by").fill("fitter 2");
  // Return in a field enters the sheet; it does not ask for a row.
  await page.keyboard.press("Enter");
  await must("the sheet is entered", shows("The sheet is entered."));

  await page.goto(`${base}/unit?tag=${tag}`);
  await page.getByLabel("Role").fill("fitter 2");
  await page.getByLabel("File").setInputFiles(picture);
  await press("Keep it");
  await must("the photo is kept", shows("It is kept."));

  await along(`${base}/paper?number=${paper}`);
  const photo = (name) => new URL(`../data/tag_photos/${name}`, import.meta.url).pathname;
  await page.goto(base + "/");
  await page.locator("#tag-photo").setInputFiles(photo("turned.jpg"));
  await press("Read the code");
  await must("a photo of the tag leads to its unit", page.getByRole("heading", { name: "TV-0312", exact: true }).waitFor().then(() => true));
  await page.goto(base + "/units");
  await page.locator("summary").first().click();
  await page.locator("#tag-photo").setInputFiles(photo("no-code.jpg"));
  await press("Read the code");
  await must("a photo without a code is said", shows("No code was found in the photo."));

  await page.goto(`${base}/paper?number=${paper}`);
  const download = page.waitForEvent("download");
  await page.getByRole("link", { name: "Paper (PDF)" }).click();
  await must("the paper has its name", download.then((file) => file.suggestedFilename() === `${paper}.pdf`));
  await page.getByLabel("Role").fill("bench technician");
  await page.getByLabel("Reason").fill("wrong cylinder");
  await press("Withdraw it");
  await must("the paper is withdrawn", shows("It no longer counts."));
  console.log(`walked ${script} script at ${base}`);
} catch (error) {
  console.error(`walk ${script} script at ${base}: ${error.message}`);
  process.exitCode = 1;
}
await browser.close();
