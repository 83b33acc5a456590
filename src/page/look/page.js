// Small comforts; every sheet works without them.
"use strict";
{
  // A form that was changed is not left by accident.
  let changed = false;
  for (const form of document.querySelectorAll("form[data-keep]")) {
    form.addEventListener("input", () => { changed = true; });
    if (form.querySelector(".fault")) changed = true;
  }
  addEventListener("beforeunload", (event) => { if (changed) event.preventDefault(); });
  // A press with a glove is often two.
  for (const form of document.querySelectorAll("form")) {
    let sent = false;
    form.addEventListener("submit", (event) => {
      if (sent) event.preventDefault();
      sent = true;
      changed = false;
    });
    addEventListener("pageshow", () => { sent = false; });
  }
  // What is wrong is shown first.
  const wrong = document.querySelector("[aria-invalid]");
  if (wrong) wrong.focus();
  for (const button of document.querySelectorAll("button[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => print());
  }
  // What changes by itself is looked at again, unless somebody types or is somewhere with the keys.
  const again = document.querySelector("[data-again]");
  if (again) {
    setInterval(() => {
      const typed = document.getElementById("text")?.value;
      if (!typed && document.activeElement === document.body) location.reload();
    }, 1000 * Number(again.dataset.again));
  }
}
