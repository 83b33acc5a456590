// Does with a browser what a person does: pairs it, fills in a job sheet with a mistake and without, keeps a
// photo, withdraws a paper, works without a mouse. Ends with 1 if something does not come out as it should.
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
