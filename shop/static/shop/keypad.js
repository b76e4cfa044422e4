/* Readings: the keypad, calipers that type, and the word beside each box.

   A form with data-readings holds boxes with data-reading, a keypad and a button with data-go. All of it works without
   this script; with it

   - Enter, which a caliper sends after each reading, goes to the next box, and from the last to the button. It never
     presses the button by itself: who measures stands over the board, and has to look at what was read before the board
     is called done. The next Enter presses it, unless it comes at once, as from a caliper that sends two.
   - What a caliper types while no box is chosen goes into the first empty one when its Enter comes.
   - Each reading is held against the limits that the server wrote beside it, so that the word is there without the
     network too. Whole millionths of a mm are compared, as the server does it; what this script cannot read it leaves
     to the server, which judges every reading anyway. */
(function () {
  "use strict";

  const FRESH = 1500; // ms: what is older is not of the caliper's reading any more
  const BOUNCE = 400; // ms: a second Enter within this is not a person's
  const PAUSE = 700; // ms: so long after a key the reading is taken as typed
  const CHOICE = "camberbook-keypad";
  const NARROW = window.matchMedia("(max-width: 43.99em)");

  const boxesOf = (form) => Array.from(form.querySelectorAll("[data-reading]"));
  const isReading = (node) => node instanceof Element && node.matches("[data-readings] [data-reading]");
  const firstForm = () => Array.from(document.querySelectorAll("form[data-readings]")).find((form) => boxesOf(form).length);
  const plain = (event) => !(event.ctrlKey || event.altKey || event.metaKey || event.isComposing);

  // The word beside a box

  const LONGEST = 100000000000n; // 100 m; the server reads nothing longer
  const PER_UNIT = { mm: 1000000n, cm: 10000000n, in: 25400000n };
  const LENGTH = /^([-+]?)(?:(\d+)(?:[.,](\d*))?|[.,](\d+)|(?:(\d+)(?: +|-))?(\d+) *\/ *(\d+)) *(mm|cm|in\.?|inch|inches|"|'')?$/;

  function halfEven(over, under) {
    const whole = over / under, twice = 2n * (over % under);
    return twice > under || (twice === under && whole % 2n) ? whole + 1n : whole;
  }

  /** Read a length in whole millionths of a mm; null where only the server can tell. */
  function read(text, unit) {
    const found = text.length <= 40 && LENGTH.exec(text.trim().toLowerCase());
    if (!found || /^[-+]?[1-9]\d{0,2},\d{3}\D*$/.test(text.trim())) return null;
    const [, sign, whole, decimals, bare, inches, over, under, written] = found;
    const per = PER_UNIT[!written ? unit : /^[mc]/.test(written) ? written : "in"];
    let top, bottom;
    if (over !== undefined) {
      bottom = BigInt(under);
      if (!bottom || (inches && BigInt(over) >= bottom)) return null;
      top = BigInt(inches || 0) * bottom + BigInt(over);
    } else {
      const places = bare || decimals || "";
      bottom = 10n ** BigInt(places.length);
      top = BigInt((whole || "") + places);
    }
    const size = halfEven(top * per, bottom);
    if (size > LONGEST) return null;
    return sign === "-" ? -size : size;
  }

  function written(size, unit) {
    const [step, places] = unit === "in" ? [25400n, 3] : [10000n, 2];
    const units = halfEven(size, step);
    if (!units) return "";
    const text = units.toString().padStart(places + 1, "0");
    return text.slice(0, -places) + "." + text.slice(-places);
  }

  function judge(box) {
    const beside = box.closest(".reading") && box.closest(".reading").querySelector(".verdict");
    if (!beside || !box.dataset.aim) return;
    const size = read(box.value, box.dataset.unit);
    const signed = size !== null && (size >= 0n || box.dataset.over === box.dataset.under);
    const words = signed ? verdict(box, size) : "";
    if (beside.textContent !== words) beside.textContent = words;
    sign(beside);
    if (box === document.activeElement && box.inputMode === "none") keepInView(box);
  }

  function verdict(box, size) {
    const off = size - BigInt(box.dataset.aim);
    const inside = size >= BigInt(box.dataset.low) && size <= BigInt(box.dataset.high);
    const by = written(off < 0n ? -off : off, box.dataset.unit) || (inside ? "" : "just");
    const way = off > 0n ? box.dataset.over : box.dataset.under;
    return (inside ? "in, " : "out, ") + (by ? by + " " + way : "to size");
  }

  function sign(beside) {
    const words = beside.textContent;
    beside.classList.toggle("in", words.startsWith("in,"));
    beside.classList.toggle("out", words.startsWith("out,"));
    beside.classList.toggle("under", words.endsWith("under"));
  }

  let pause = 0;
  document.addEventListener("input", (event) => {
    const box = event.target;
    if (!isReading(box)) return;
    clearTimeout(pause);
    // Half a reading is not judged: 6 on the way to 6.30 is not 0.30 under.
    const beside = box.closest(".reading") && box.closest(".reading").querySelector(".verdict");
    if (beside && beside.textContent) { beside.textContent = ""; sign(beside); }
    pause = setTimeout(judge, PAUSE, box);
  });
  document.addEventListener("change", (event) => { if (isReading(event.target)) judge(event.target); });

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
    judge(box);
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
    root.querySelectorAll(".verdict").forEach(sign);
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
