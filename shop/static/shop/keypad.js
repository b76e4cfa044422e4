/* Readings: the keypad, and calipers that type.

   A form with data-readings holds boxes with data-reading, a keypad and a button with data-go. All of it works without
   this script; with it

   - Enter, which a caliper sends after each reading, goes to the next box, and from the last to the button. It never
     presses the button by itself: who measures stands over the board, and has to look at what was read before the board
     is called done. The next Enter presses it, unless it comes at once, as from a caliper that sends two.
   - What a caliper types while no box is chosen goes into the first empty one when its Enter comes.

   The word beside each box is readings.js's: it hears of a reading that is typed by the box's change. */
(function () {
  "use strict";

  const FRESH = 1500; // ms: what is older is not of the caliper's reading any more
  const BOUNCE = 400; // ms: a second Enter within this is not a person's
  const CHOICE = "camberbook-keypad";
  const NARROW = window.matchMedia("(max-width: 43.99em)");

  const boxesOf = (form) => Array.from(form.querySelectorAll("[data-reading]"));
  const isReading = (node) => node instanceof Element && node.matches("[data-readings] [data-reading]");
  const firstForm = () => Array.from(document.querySelectorAll("form[data-readings]")).find((form) => boxesOf(form).length);
  const plain = (event) => !(event.ctrlKey || event.altKey || event.metaKey || event.isComposing);

  // From box to box

  let movedOn = -Infinity; // when Enter last moved on, and no other key came since

  function goTo(node) {
    node.focus({ preventScroll: true });
    if (node.select) node.select();
    keepInView(node);
  }

  /** Scroll so that the box with its word, or the button, is in view and not behind the keypad. */
  function keepInView(node) {
    const form = node.closest("form"), keypad = form.querySelector(".keypad:not([hidden])");
    const about = (node.closest(".reading") || node).getBoundingClientRect();
    const keys = keypad && isReading(node) && keypad.getBoundingClientRect();
    const over = keys && keys.left < about.right && about.left < keys.right; // on a wide page it stands beside the boxes
    const foot = over ? Math.min(keys.top, window.innerHeight) : window.innerHeight;
    const by = about.top < 8 ? about.top - 8 : Math.max(about.bottom - foot + 4, 0);
    // At once: the next tap is on its way, and must not meet something that still moves.
    if (by) window.scrollBy({ top: by, behavior: "instant" });
  }

  function next(box) {
    const form = box.closest("form"), boxes = boxesOf(form);
    box.dispatchEvent(new Event("change", { bubbles: true }));
    const after = boxes[boxes.indexOf(box) + 1]
      || form.querySelector(".questions input:not(:checked)") || form.querySelector("[data-go]");
    if (after) goTo(after);
  }

  document.addEventListener("focusin", (event) => {
    if (!isReading(event.target)) return;
    event.target.select();
    if (NARROW.matches) showKeypads(event.target.closest("form"));
    if (event.target.inputMode === "none" && !starting) keepInView(event.target);
  });

  document.addEventListener("reading:judged", (event) => {
    if (event.target === document.activeElement && event.target.inputMode === "none") keepInView(event.target);
  });

  // What a caliper types while no box is chosen

  let heard = "", heardAt = 0;

  function isForText(node) {
    return node.isContentEditable || node.matches("textarea, select, input:not([type=checkbox], [type=radio], [type=hidden])");
  }

  function listen(event) {
    if (!plain(event)) { heard = ""; return; }
    if (event.timeStamp - heardAt > FRESH) heard = "";
    const form = firstForm();
    if (!form) return;
    if (heard && (event.key === "Enter" || event.key === "Tab")) {
      event.preventDefault();
      take(form, heard);
      heard = "";
      movedOn = event.timeStamp;
    } else if (/^[-+0-9.,]$/.test(event.key) || (heard && /^[min" ]$/.test(event.key))) {
      heard = (heard + event.key).slice(-40);
      heardAt = event.timeStamp;
      if (event.key === " ") event.preventDefault(); // it would press the button, or move the page
    } else if (event.key !== "Shift") {
      heard = "";
    }
  }

  function take(form, text) {
    const box = boxesOf(form).find((each) => !each.value.trim());
    if (!/\d/.test(text)) return;
    if (!box) {
      say(form, text + " was not taken: every box is filled. Choose the box that it belongs to, and read again.");
      return;
    }
    box.value = text.trim();
    box.dispatchEvent(new Event("input", { bubbles: true }));
    next(box);
  }

  function say(form, words) {
    let line = form.querySelector(".not-taken");
    if (!line) {
      line = document.createElement("p");
      line.className = "not-taken";
      line.setAttribute("role", "alert");
      form.querySelector("[data-go]").before(line);
    }
    line.textContent = words;
  }

  document.addEventListener("keydown", (event) => {
    const at = event.target;
    if (!(at instanceof Element)) return;
    if (event.key !== "Enter") movedOn = -Infinity;
    const bounced = event.key === "Enter" && (event.repeat || event.timeStamp - movedOn < BOUNCE);
    if (isReading(at)) {
      heard = "";
      if (event.key !== "Enter" || !plain(event)) return;
      event.preventDefault(); // in a form it would send it
      if (!bounced) next(at);
      movedOn = event.timeStamp;
      return;
    }
    if (bounced && at.closest("[data-readings]")) {
      event.preventDefault();
      return;
    }
    if (!isForText(at)) listen(event);
  });

  // The keypad

  function chosen() {
    try {
      const kept = localStorage.getItem(CHOICE);
      if (kept) return kept === "on";
    } catch (error) { /* a browser that keeps nothing: as if never asked */ }
    return window.matchMedia("(any-pointer: coarse)").matches;
  }

  function showKeypads(only) {
    const on = chosen();
    document.querySelectorAll("form[data-readings]").forEach((form) => {
      const keypad = form.querySelector(".keypad"), choice = form.querySelector("[data-keypad]");
      if (!keypad || !choice) return;
      // On a phone it comes when a box is chosen, as a phone's own does; it stays, so that nothing moves under a finger.
      keypad.hidden = !on || (NARROW.matches && form !== only && keypad.hidden);
      keypad.querySelector(".point").dataset.key = keypad.querySelector(".point").textContent = decimalSign;
      choice.textContent = on ? choice.dataset.on : choice.dataset.off;
      choice.parentElement.hidden = false;
      boxesOf(form).forEach((box) => {
        box.dataset.own = box.dataset.own || box.inputMode;
        box.inputMode = on ? "none" : box.dataset.own;
      });
    });
  }

  const decimalSign = (new Intl.NumberFormat(navigator.language).formatToParts(1.5).find((part) => part.type === "decimal") || { value: "." }).value === "," ? "," : ".";

  // The box keeps the cursor while keys are pressed.
  document.addEventListener("pointerdown", (event) => { if (event.target.closest(".keypad")) event.preventDefault(); });
  document.addEventListener("mousedown", (event) => { if (event.target.closest(".keypad")) event.preventDefault(); });

  document.addEventListener("click", (event) => {
    const key = event.target.closest(".keypad [data-key]"), choice = event.target.closest("[data-keypad]");
    if (key) press(key.closest("form"), key.dataset.key);
    if (choice) {
      try { localStorage.setItem(CHOICE, chosen() ? "off" : "on"); } catch (error) { return; }
      showKeypads(choice.closest("form"));
    }
  });

  function press(form, key) {
    const boxes = boxesOf(form);
    let box = boxes.find((each) => each === document.activeElement);
    if (!box) {
      box = boxes.find((each) => !each.value.trim()) || boxes[0];
      goTo(box);
    }
    if (key === "next") return next(box);
    const [start, end] = [box.selectionStart, box.selectionEnd];
    if (key === "clear") box.value = "";
    else if (key === "back") box.setRangeText("", start === end ? Math.max(start - 1, 0) : start, end, "end");
    else if (key === "-") box.value = box.value.startsWith("-") ? box.value.slice(1) : "-" + box.value;
    else if (box.value.length - (end - start) + key.length <= box.maxLength) box.setRangeText(key, start, end, "end");
    box.dispatchEvent(new Event("input", { bubbles: true }));
  }

  // At the start

  let starting = false;

  function begin(root) {
    showKeypads(null);
    const form = root.querySelector(".bench form[data-readings]");
    const free = !document.activeElement || [document.body, document.getElementById("main")].includes(document.activeElement);
    const box = form && free && !NARROW.matches && !location.hash && boxesOf(form).find((each) => !each.value);
    starting = true; // the page stays at its head: the figures come first
    if (box) box.focus({ preventScroll: true });
    starting = false;
  }

  document.addEventListener("DOMContentLoaded", () => begin(document));
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.querySelector && event.target.querySelector("form[data-readings]")) begin(event.target);
  });
})();
