/* An enrolled tablet: a large keypad for the PIN, and a page that gives way to the list of names when nobody has touched
   it for a while. Without this script the PIN is typed on the device's own keys, and the shop's machine gives way at the
   next press. */
(function () {
  "use strict";

  document.querySelectorAll("[data-pin-keys]").forEach((keys) => {
    const box = keys.closest("form").querySelector("[data-pin]");
    box.inputMode = "none"; // so that the device's own keys do not cover ours
    keys.hidden = false;
    keys.addEventListener("click", (event) => {
      const key = event.target.closest("button[data-key]");
      if (!key) return;
      if (key.dataset.key === "back") box.value = box.value.slice(0, -1);
      else if (box.value.length < box.maxLength) box.value += key.dataset.key;
    });
  });

  const minutes = Number(document.body.dataset.idle), leave = document.querySelector("form.who");
  if (!minutes || !leave) return;
  let touched = Date.now(), typed = false;
  ["pointerdown", "keydown", "scroll"].forEach((what) => {
    document.addEventListener(what, () => { touched = Date.now(); }, { passive: true, capture: true });
  });
  document.addEventListener("input", () => { typed = true; });
  // What is half typed stays in view: the machine has given way by then, and what is sent waits for whose it is.
  setInterval(() => {
    if (!typed && Date.now() - touched > minutes * 60000) HTMLFormElement.prototype.submit.call(leave);
  }, 5000);
})();
