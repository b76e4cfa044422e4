/* Two tablets at one bench: what one finishes leaves the other's list, without moving what a finger is about to press.

   Every few seconds the page asks which boards wait here and where those have gone that it shows. A board that left
   becomes, in its place and at its height, a line that says who did it and when. Boards that came are told of in a line
   kept free under the list, and come in below it when that is pressed. Rows close up when the page is opened anew, not
   before. While a finger is down, and for a moment after, nothing changes at all. */
(function () {
  "use strict";

  const EVERY = 4000, CALM = 1000, PATIENCE = 8000; // ms

  const list = document.querySelector("[data-news]");
  if (!list) return;
  const inHand = () => document.querySelector(".hand[data-number]"); // another board may be taken in hand in this page
  const came = list.querySelector(".came"), said = list.querySelector(".said");
  const links = new Map(); // of boards that left: kept, should one come back

  const rows = () => Array.from(list.querySelectorAll("[id^='run-']"));
  const numberOf = (row) => row.id.slice("run-".length);

  // A finger on the glass, or just taken off it

  let touches = 0, down = false, lastTouch = -Infinity;
  const touched = () => { lastTouch = performance.now(); };
  const isCalm = () => !down && !touches && performance.now() - lastTouch >= CALM;
  const passive = { capture: true, passive: true };
  for (const name of ["touchstart", "touchend", "touchcancel"]) {
    document.addEventListener(name, (event) => { touches = event.touches.length; touched(); }, passive);
  }
  document.addEventListener("pointerdown", () => { down = true; touched(); }, passive);
  for (const name of ["pointerup", "pointercancel"]) {
    document.addEventListener(name, () => { down = false; touched(); }, passive);
  }
  document.addEventListener("scroll", touched, passive);
  document.addEventListener("keydown", touched, passive);

  // Asking

  let timer = 0, news = null, over = false;

  async function ask() {
    clearTimeout(timer);
    if (over || document.hidden) return; // asked again as soon as somebody looks
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const hand = inHand(), shown = rows().map(numberOf).concat(hand ? [hand.dataset.number] : []);
      const address = list.dataset.news + "?shown=" + encodeURIComponent(shown.join(","));
      const answer = await fetch(address, { signal: stop.signal, cache: "no-store", headers: { Accept: "application/json" } });
      // Signed out meanwhile: the next press says so, and this page has nothing more to hear.
      if (answer.redirected || answer.status === 403 || answer.status === 404) over = true;
      else if (answer.ok) { news = await answer.json(); tellWhenCalm(); }
    } catch (error) { /* No network: whoever presses something is told. */ }
    clearTimeout(late);
    timer = setTimeout(ask, EVERY);
  }

  function tellWhenCalm() {
    if (!news) return;
    if (!isCalm()) return void setTimeout(tellWhenCalm, CALM / 4);
    const now = news;
    news = null;
    tell(now);
  }

  function tell({ here, gone }) {
    const waiting = new Set(here), words = [], hand = inHand();
    for (const row of rows()) {
      const number = numberOf(row);
      if (waiting.has(number)) bringBack(row);
      else if (gone[number] && leave(row, gone[number])) words.push(number + ": " + gone[number] + ".");
    }
    if (hand) tellHand(hand, gone[hand.dataset.number] || "");
    const known = knownHere();
    announce(here.filter((number) => !known.has(number)).length);
    if (words.length) said.textContent = words.length < 4 ? words.join(" ") : words.length + " boards left the list.";
  }

  // A board that left, in its place

  function leave(row, words) {
    if (links.has(row.id)) return false;
    const item = row.closest("li"), line = document.createElement("p");
    item.style.height = item.getBoundingClientRect().height + "px";
    line.id = row.id;
    line.className = "left";
    line.append(part("number", numberOf(row)), part("words", words));
    const wasChosen = row === document.activeElement;
    links.set(row.id, row);
    row.replaceWith(line);
    if (wasChosen) {
      line.tabIndex = -1;
      line.focus({ preventScroll: true });
    }
    const hand = inHand();
    return !hand || numberOf(row) !== hand.dataset.number; // that one is told of beside its button
  }

  function part(name, words) {
    const span = document.createElement("span");
    span.className = name;
    span.textContent = words;
    return span;
  }

  function bringBack(line) {
    const row = links.get(line.id);
    if (!row) return;
    links.delete(line.id);
    line.closest("li").style.height = "";
    line.replaceWith(row);
  }

  // The board in hand: its panel says so in a place that is kept free, and its button leads on

  function tellHand(hand, words) {
    const form = hand.querySelector("form[data-readings]"), button = form && form.querySelector("[data-go]");
    if (!button || "sent" in form.dataset) return; // this tablet's own press is on its way
    button.dataset.own = button.dataset.own || button.textContent;
    if (words) hand.dataset.gone = words;
    else delete hand.dataset.gone;
    const news = hand.querySelector(".news"), line = words && words + ". Go on with the next board.";
    if (news.textContent !== line) news.textContent = line;
    button.textContent = words ? hand.dataset.on : button.dataset.own;
  }

  // At the window, so that it comes before whatever else would send or keep the form.
  window.addEventListener("submit", (event) => {
    const hand = inHand();
    if (!hand || !hand.dataset.gone || !event.target.matches("form[data-readings]")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    location.assign(hand.dataset.then);
  }, true);

  // Boards that came

  const stopped = (root) => Array.from(root.querySelectorAll("[data-waits]")); // boards without figures are no rows
  const knownHere = () => new Set(rows().map(numberOf).concat(stopped(list).map((line) => line.dataset.waits)));

  function announce(count) {
    const words = count ? (count === 1 ? "1 board came: show it" : count + " boards came: show them") : "";
    const button = came.querySelector("button");
    came.classList.toggle("some", Boolean(count));
    if (!count || button.textContent === words) return;
    button.textContent = words;
    said.textContent = words.split(":")[0] + ".";
  }

  came.querySelector("button").addEventListener("click", async () => {
    let fresh;
    try {
      const answer = await fetch(list.dataset.run, { cache: "no-store" });
      if (!answer.ok || answer.redirected) return;
      fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    } catch (error) { return; /* the line stays, to be pressed again */ }
    const known = knownHere();
    const items = Array.from(fresh.querySelectorAll("[id^='run-']")).filter((row) => !known.has(numberOf(row)));
    const below = list.querySelector(".later");
    for (const row of items) below.append(row.closest("li"));
    below.hidden = !items.length && below.hidden;
    for (const line of stopped(fresh)) if (!known.has(line.dataset.waits)) came.before(line);
    came.classList.remove("some");
    if (items[0]) items[0].focus({ preventScroll: true });
  });

  document.addEventListener("visibilitychange", () => { if (!document.hidden) ask(); });
  timer = setTimeout(ask, EVERY);
})();
