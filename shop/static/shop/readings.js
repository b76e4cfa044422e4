/* The word beside a reading: whether it is in, as it is typed.

   Each reading is held against the limits that the server wrote beside its box, so that the word is there without the
   network too. Whole millionths of a mm are compared, as the server does it; what this script cannot read it leaves to
   the server, which judges every reading anyway (`Target.verdict` in boards/readings.py) and says the same. */
(function () {
  "use strict";

  const PAUSE = 700; // ms: so long after a key the reading is taken as typed
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

  /** Find where the word of a box goes; a box without limits has none. */
  function besideOf(box) {
    const reading = box instanceof Element && box.matches("[data-readings] [data-aim]") && box.closest(".reading");
    return reading ? reading.querySelector(".verdict") : null;
  }

  function judge(box) {
    const beside = besideOf(box);
    if (!beside) return;
    const size = read(box.value, box.dataset.unit);
    const signed = size !== null && (size >= 0n || box.dataset.over === box.dataset.under);
    const words = signed ? verdict(box, size) : "";
    if (beside.textContent !== words) beside.textContent = words;
    sign(beside);
    box.dispatchEvent(new CustomEvent("reading:judged", { bubbles: true }));
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
    const beside = besideOf(event.target);
    if (!beside) return;
    clearTimeout(pause);
    // Half a reading is not judged: 6 on the way to 6.30 is not 0.30 under.
    if (beside.textContent) { beside.textContent = ""; sign(beside); }
    pause = setTimeout(judge, PAUSE, event.target);
  });
  document.addEventListener("change", (event) => judge(event.target));

  const signAll = (root) => root.querySelectorAll(".verdict").forEach(sign); // what the server has said already
  document.addEventListener("DOMContentLoaded", () => signAll(document));
  document.addEventListener("htmx:afterSettle", (event) => { if (event.target.querySelectorAll) signAll(event.target); });
})();
