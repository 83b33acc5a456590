// Does a test from the page as a person at the bench does, by touch alone, and all that may come in between: a
// seal that fails, an adapter that is pulled, a sheet that is loaded again, somebody who looks on, somebody who
// means harm. Looks at the sheet in each of its states. Ends with 1 if something does not come out as it should.
//
//   node tests/page/bench.mjs http://127.0.0.1:8377 FOLDER [PART…]
//
// PART is wholeProof, failingSeal, pulledAndBack, stopped or hostile; all of them without.
import { mkdir } from "node:fs/promises";
import { chromium } from "playwright-core";
import { listen, look, sizes } from "./sight.mjs";

const [base, folder, ...wanted] = process.argv.slice(2);
await mkdir(folder, { recursive: true });
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium" });
const [width, height] = sizes.tablet;
const wrong = [];
const looked = new Set();

async function screen() {
  const context = await browser.newContext({ viewport: { width, height }, hasTouch: true });
  const page = await context.newPage();
  page.setDefaultTimeout(20000);
  listen(page, base, wrong);
  return page;
}

async function must(page, what, holds) {
  if (!(await holds)) throw new Error(`${what}; at ${page.url()}:\n${(await page.locator("main").innerText()).slice(0, 900)}`);
}
const where = (page) => page.locator(".where strong").textContent();
const until = (page, word, s = 120) => page.waitForFunction(
  (wanted) => document.querySelector(".where strong")?.textContent.startsWith(wanted), word, { timeout: s * 1000 });
const tap = (page, name) => page.getByRole("button", { name, exact: true }).first().tap();

// Looks at the sheet as it stands, once for each name, at all sizes.
async function seen(page, name) {
  if (looked.has(name)) return;
  looked.add(name);
  for (const [size, [w, h]] of Object.entries(sizes)) {
    await page.setViewportSize({ width: w, height: h });
    await page.waitForTimeout(150);
    await look(page, name, size, folder, wrong);
  }
  await page.setViewportSize({ width, height });
}

// From the first sheet to a test that runs.
async function begin(page, piece, pace) {
  await page.goto(base + "/bench");
  await seen(page, "bench-free");
  await page.locator("label.option", { has: page.locator("strong", { hasText: new RegExp(`^${piece}$`) }) }).tap();
  await page.selectOption("#pace", pace);
  await tap(page, "See the plan");
  await must(page, "the plan is shown", page.getByRole("heading", { name: "Step by step" }).waitFor().then(() => true));
  await seen(page, piece.startsWith("proof") ? "bench-plan" : "bench-plan-hold");
  // Nothing begins before the cautions were read.
  await tap(page, "Begin");
  await must(page, "cautions are insisted on", page.getByText("Read them and tick that you have.").waitFor().then(() => true));
  await page.locator("label.tick").tap();
  await tap(page, "Begin");
  await page.waitForURL(/\/bench$/);
}

// Answers whatever is asked until the test is over, as the practice bench shows it.
async function answered(page, atEach = async () => {}) {
  for (let i = 0; i < 2000; i++) {
    const now = await where(page);
    await atEach(now);
    if (now === "Finished") return;
    const typed = page.locator("#text");
    const shows = page.locator(".rig", { hasText: "You would see" });
    if (await typed.count()) {
      if (await shows.count()) {
        const text = (await shows.innerText()).split("You would see: ")[1];
        await typed.fill(text);
        await page.locator("button[value=typed]").tap({ timeout: 2000 }).catch(() => {});
      }
    } else if (await page.locator("button[value=done]").count()) {
      // What is asked may be over by the time it is pressed.
      await page.locator("button[value=done]").tap({ timeout: 2000 }).catch(() => {});
    }
    await page.waitForTimeout(250);
  }
  throw new Error("the test did not end");
}

async function cleared(page, stamp) {
  await must(page, `it comes out as ${stamp}`, page.locator(".stamp").first().textContent().then((text) => text === stamp));
  await seen(page, `bench-${stamp.toLowerCase().replace(" ", "-")}`);
  const paper = await page.locator("a.press.first").getAttribute("href");
  await tap(page, "Next test");
  await must(page, "the bench is free", page.getByRole("heading", { name: "Begin a test" }).waitFor().then(() => true));
  await page.goto(base + paper);
  await must(page, "its paper has the same outcome", page.locator(".stamp.large").textContent().then((text) => text === stamp));
}

// A whole proof of a rebuilt cylinder.
async function wholeProof() {
  const page = await screen();
  await begin(page, "proof-sound", "60");
  const names = { "Your turn": "bench-asking", "Your reading": "bench-typing" };
  let isHeld = 0;
  await answered(page, async (now) => {
    if (now.startsWith("Holding")) isHeld++;
    if (names[now]) await seen(page, names[now]);
  });
  await must(page, "holds were seen", isHeld > 3);
  await cleared(page, "Pass");
  await page.context().close();
}

// A piston seal that lets oil by: fails, and says so with its figure and limit.
async function failingSeal() {
  const page = await screen();
  await begin(page, "piston-seal-bypass", "10");
  await until(page, "Settling");
  await seen(page, "bench-settling");
  await until(page, "Holding");
  await must(page, "the figures so far come with their limit", page.locator("[data-part=account] .said", { hasText: "limit" }).first().waitFor().then(() => true));
  await seen(page, "bench-holding");
  await answered(page);
  await must(page, "the reason names the limit", page.locator("[data-part=out]").innerText().then((text) => /mL\/min/.test(text)));
  await cleared(page, "Fail");
  await page.context().close();
}

// The adapter is pulled during the hold and comes back; the sheet is loaded again; somebody else looks on.
async function pulledAndBack() {
  const page = await screen();
  await begin(page, "adapter-pulled-and-back", "10");
  await until(page, "Holding");
  const other = await screen();
  await other.goto(base + "/bench");
  await must(other, "who looks on is told", other.getByText("You are looking on.").waitFor().then(() => true));
  await must(other, "who looks on cannot stop it", other.locator("button[value=stop]").count().then((n) => n === 0));
  // Even a form of its own does not.
  const refused = await other.evaluate(async () => {
    const token = document.querySelector("input[name=token]").value;
    const reply = await fetch("/bench/say", { method: "POST", body: new URLSearchParams({ token, what: "stop" }) });
    return reply.status;
  });
  await must(other, `a stop from elsewhere is refused (${refused})`, refused === 409);
  await seen(other, "bench-looking-on");
  // It is away for a second: what stood there is noted as it comes, however slow this computer is.
  await page.evaluate(() => {
    window.lost = new Set();
    const note = () => document.querySelectorAll(".figures .lost").forEach((one) => window.lost.add(`${one.dataset.reading} ${one.querySelector(".value").textContent}`));
    new MutationObserver(note).observe(document.getElementById("live"), { subtree: true, childList: true, characterData: true, attributes: true });
  });
  await page.locator("[data-part=alarm]", { hasText: "adapter lost" }).waitFor({ timeout: 120000 });
  await seen(page, "bench-lost");
  await page.locator("[data-part=alarm]", { hasText: "data again" }).waitFor({ timeout: 120000 });
  const lost = await page.evaluate(() => [...window.lost].sort().join());
  await must(page, `all readings are lost and no old value stands for one (${lost})`, lost === "cap –,oil –,position –,rod –");
  // All that was said is still there after the sheet was loaded again, and until it is read.
  await page.reload();
  await must(page, "it still holds", where(page).then((now) => now.startsWith("Holding")));
  await must(page, "what was said is still there", page.locator("[data-part=alarm]", { hasText: "adapter lost" }).waitFor().then(() => true));
  await tap(page, "I have read it");
  await page.locator("[data-part=alarm]", { hasText: "adapter lost" }).waitFor({ state: "detached" });
  await must(other, "both see the same figures", Promise.all([page, other].map((one) => one.locator("[data-reading]").count()))
    .then(([mine, theirs]) => mine === theirs && mine > 0));
  // Whoever takes it over answers, and the first one looks on.
  await tap(other, "Answer from this screen");
  await must(page, "the first one looks on now", page.getByText("You are looking on.").waitFor().then(() => true));
  await must(other, "the other one can stop it", other.locator("button[value=stop]").waitFor().then(() => true));
  await answered(other);
  // Ten times as fast as life the second without a word is ten of the hold, and too much for a figure.
  await must(other, "the reason is the gap", other.locator("[data-part=out]").innerText().then((text) => /have no samples/.test(text)));
  await cleared(other, "Not valid");
  await page.context().close();
  await other.context().close();
}

// Stop ends the recording; what was recorded is kept, and is no pass.
async function stopped() {
  const page = await screen();
  await begin(page, "tight-rebuild", "10");
  await until(page, "Holding");
  await tap(page, "Stop recording");
  await until(page, "Finished");
  await cleared(page, "Not valid");
  await page.context().close();
}

// What somebody types who means harm is shown as it was typed, or refused with a sentence.
async function hostile() {
  const page = await screen();
  const script = "<script>document.title='harm'</script>";
  const asks = [
    `/bench/plan?piece=${encodeURIComponent(script)}`, "/bench/plan?piece=setup:../../register.db", "/bench/plan?piece=setup:..%2F..%2Fetc%2Fpasswd",
    "/bench/plan?piece=practice:../proof-sound", `/bench/plan?piece=practice:proof-sound&procedure=${encodeURIComponent(script)}`,
    "/bench/picture/..%2F..%2Fkeys", "/bench/picture/account?look=../../x",
  ];
  for (const ask of asks) {
    const reply = await page.goto(base + ask);
    await must(page, `${ask} is refused with a sentence (${reply.status()})`, reply.status() >= 400 && reply.status() < 500);
    await must(page, "nothing of it runs", page.title().then((title) => title !== "harm"));
  }
  await begin(page, "proof-sound", "60");
  await until(page, "Your turn");
  const said = await page.evaluate(async (text) => {
    const token = document.querySelector("input[name=token]").value;
    const send = (fields, more = {}) => fetch("/bench/say", { method: "POST", body: new URLSearchParams(fields), ...more }).then((reply) => reply.status);
    return [
      await send({ token: "0".repeat(64), what: "stop" }), await send({ what: "stop" }), await send({ token, what: text }),
      await send({ token, what: "typed", number: "1", text: text.repeat(2000) }), await send({ token, what: "done", number: "-1" }),
    ];
  }, script);
  await must(page, `marks, words and sizes are looked at (${said})`, said.join() === "403,403,404,413,404");
  for (const headers of [{ origin: "http://elsewhere.example" }, { origin: "null" }]) {
    const token = await page.locator("input[name=token]").first().inputValue();
    const cookies = (await page.context().cookies()).map((one) => `${one.name}=${one.value}`).join("; ");
    const reply = await fetch(base + "/bench/say", { method: "POST", headers: { ...headers, cookie: cookies }, body: new URLSearchParams({ token, what: "stop" }) });
    await must(page, `a form from elsewhere is refused (${reply.status})`, reply.status === 403);
  }
  let isTyped = false;
  await answered(page, async (now) => {
    if (!isTyped && now.startsWith("Your reading")) {
      isTyped = true;
      await page.locator("#text").fill(script);
      await page.locator("button[value=typed]").tap();
      await page.locator("[data-part=alarm]", { hasText: "<script>" }).waitFor();
      await must(page, "nothing of it runs", page.title().then((title) => title !== "harm"));
      await tap(page, "Stop recording");
    }
  });
  await must(page, "it was typed", isTyped);
  await cleared(page, "Not valid");
  await page.context().close();
}

try {
  for (const part of [failingSeal, pulledAndBack, stopped, hostile, wholeProof].filter((one) => !wanted.length || wanted.includes(one.name))) {
    const started = performance.now();
    await part();
    console.log(`${part.name}: ${((performance.now() - started) / 1000).toFixed(0)} s`);
  }
} catch (error) {
  wrong.push(String(error));
}
await browser.close();
for (const what of wrong) console.error(what);
console.log(`${looked.size} states of the bench at ${Object.keys(sizes).length} sizes looked at, ${wrong.length} findings; pictures in ${folder}`);
process.exit(wrong.length ? 1 : 0);
