// The test on the bench as it goes on. Without this the sheet is true when it is loaded.
"use strict";
{
  const live = document.getElementById("live");
  const noLine = document.getElementById("no-line");
  const notSent = document.getElementById("not-sent");
  const shown = new Map();
  let heard = performance.now();

  const hear = () => {
    heard = performance.now();
    noLine.hidden = true;
    live.classList.remove("old");
  };

  // What does not answer for five seconds is old, and must not look as if it were now.
  setInterval(() => {
    const isOld = performance.now() - heard > 5000;
    noLine.hidden = !isOld;
    live.classList.toggle("old", isOld);
  }, 1000);

  const readings = (text) => {
    for (const line of text.split("\n")) {
      const [kind, key, value, state, word] = line.split("\t");
      const place = kind && live.querySelector(`[data-${kind}="${key}"]`);
      if (!place) continue;
      if (kind === "reading") {
        place.querySelector(".value").textContent = value;
        place.querySelector(".state").textContent = word;
        place.className = state;
      } else {
        place.querySelector("progress").value = Number(value);
        place.querySelector(".words").textContent = word;
        place.className = `rating ${state}`;
      }
    }
  };

  // A picture takes the place of another once it is there, so that nothing flickers.
  const ready = (place) => Promise.all([...place.querySelectorAll("img")].map((image) => {
    const next = new Image();
    next.src = image.currentSrc || image.src;
    return next.decode().catch(() => {});
  }));

  const put = (old, fresh) => {
    const typed = old.querySelector("input[name=text]");
    const number = old.querySelector("input[name=number]");
    const isFocused = typed && document.activeElement === typed;
    const again = fresh.querySelector("input[name=text]");
    if (typed && again && number.value === fresh.querySelector("input[name=number]").value) {
      again.value = typed.value;
    }
    const open = old.querySelector("details");
    const opened = fresh.querySelector("details");
    if (open && opened) opened.open = open.open;
    const pressed = old.contains(document.activeElement) ? document.activeElement.value : null;
    old.replaceWith(fresh);
    if (isFocused && again) again.focus();
    else if (pressed) {
      const button = [...fresh.querySelectorAll("button")].find((one) => one.value === pressed);
      if (button) button.focus();
    }
  };

  let last = "";
  const part = async (html) => {
    const parsed = new DOMParser().parseFromString(html, "text/html");
    for (const fresh of parsed.querySelectorAll("[data-part]")) {
      const name = fresh.dataset.part;
      const text = fresh.outerHTML;
      if (shown.get(name) === text) continue;
      shown.set(name, text);
      const placed = document.importNode(fresh, true);
      if (name === "account") {
        await ready(placed);
        if (shown.get(name) !== text) continue;
      }
      const old = live.querySelector(`[data-part="${name}"]`);
      if (old) put(old, placed);
    }
    readings(last);
  };

  const source = new EventSource(live.dataset.from);
  source.addEventListener("readings", (event) => {
    hear();
    last = event.data;
    readings(last);
  });
  source.addEventListener("part", (event) => {
    hear();
    part(event.data);
  });
  source.addEventListener("gone", () => location.reload());

  // What is pressed is sent without leaving the sheet; a press with a glove is often two.
  live.addEventListener("submit", async (event) => {
    const form = event.target;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    event.preventDefault();
    form.dataset.sent = "yes";
    const fields = new URLSearchParams(new FormData(form, event.submitter));
    try {
      const reply = await fetch(form.action, { method: "POST", body: fields });
      if (!reply.ok) {
        location.reload();
        return;
      }
      if (fields.get("what") === "clear") location.assign("/bench");
      notSent.hidden = true;
    } catch {
      notSent.hidden = false;
    }
    delete form.dataset.sent;
  });
}
