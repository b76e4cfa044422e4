/* A run without the network. While there is contact, the pages of the boards that come next at a bench are fetched ahead;
   when it is gone, the next board is taken in hand from there, and what is pressed waits to be sent. The list of the run
   stays where it is, and says which boards wait.

   A page that is open is not left for one that cannot be fetched. */
(function () {
  "use strict";

  const { store, whoIs, outbox, WHO } = window.camberbook;
  const AHEAD = 12, STALE = 30 * 60000, PAUSE = 150, START = 1200, PATIENCE = 15000; // boards; ms

  const linksOf = (root) => Array.from(root.querySelectorAll("#run a[id^='run-']"));
  const urlOf = (link) => link.pathname + link.search;
  const numberOf = (link) => link.id.slice("run-".length);
  const inOrder = () => { // from the board in hand on, then round
    const links = linksOf(document), at = links.findIndex((link) => link.getAttribute("aria-current"));
    return links.slice(at + 1).concat(links.slice(0, at + 1));
  };

  // Fetching ahead

  let busy = false;

  async function fetchAhead() {
    if (busy || !WHO || outbox.down || !document.getElementById("hand")) return;
    busy = true;
    try {
      const links = inOrder().slice(0, AHEAD), kept = new Map((await store.pages.all()).map((page) => [page.url, page]));
      const bench = location.pathname, wanted = new Set(linksOf(document).map(urlOf));
      for (const page of kept.values()) {
        if (page.who !== WHO || (page.url.startsWith(bench) && !wanted.has(page.url))) await store.pages.remove(page.url);
      }
      for (const link of links) {
        const page = kept.get(urlOf(link)), version = link.dataset.version || "";
        if (page && page.who === WHO && page.version === version && Date.now() - page.at < STALE) continue;
        if (outbox.down || document.querySelector("form[data-sent]")) return;
        const html = await fetchPage(urlOf(link));
        if (!html) return;
        await store.pages.put({ url: urlOf(link), html, version, at: Date.now(), who: WHO });
        await new Promise((resolve) => setTimeout(resolve, PAUSE));
      }
    } catch (error) { /* a browser that keeps nothing, or no network: the page works without */
    } finally {
      busy = false;
    }
  }

  /** Fetch the page of a board; of it, what differs from board to board. */
  async function fetchPage(url) {
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const answer = await fetch(url, { headers: { Outbox: "ahead" }, credentials: "same-origin", redirect: "manual", signal: stop.signal });
      if (answer.status !== 200) return "";
      const page = new DOMParser().parseFromString(await answer.text(), "text/html"), bench = page.querySelector(".bench");
      if (!bench || !bench.querySelector("#hand[data-number]")) return "";
      bench.querySelectorAll(".queue").forEach((part) => part.remove());
      return bench.outerHTML;
    } finally {
      clearTimeout(late);
    }
  }

  // The next board from what was fetched

  function show(page, link) {
    const fresh = new DOMParser().parseFromString(page.html, "text/html").querySelector(".bench");
    const bench = document.querySelector(".bench"), hand = document.getElementById("hand"), source = fresh.querySelector("#hand");
    bench.className = fresh.className;
    // The elements stay, their content changes: other scripts hold on to them.
    for (const { name } of Array.from(hand.attributes)) hand.removeAttribute(name);
    for (const { name, value } of Array.from(source.attributes)) hand.setAttribute(name, value);
    hand.replaceChildren(...Array.from(document.adoptNode(source).childNodes));
    const jig = bench.querySelector(".beside > .jig"), other = fresh.querySelector(".beside > .jig");
    if (jig && other) jig.replaceWith(other);
    else if (jig) jig.remove();
    else if (other) bench.querySelector(".beside").prepend(other);
    const note = document.createElement("p"), at = new Date(page.at);
    note.className = "soft from-before";
    note.setAttribute("role", "status");
    note.textContent = "This board as it was at " + at.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false }) + ".";
    hand.prepend(note);
    takeInHand(link);
    history.replaceState(null, "", page.url);
    if (window.htmx) window.htmx.process(hand);
    hand.dispatchEvent(new CustomEvent("htmx:afterSettle", { bubbles: true })); // boxes and keypad begin anew
    if (hand.getBoundingClientRect().top < 0) hand.scrollIntoView();
  }

  function takeInHand(link) {
    for (const other of linksOf(document)) {
      other.removeAttribute("aria-current");
      other.querySelectorAll(".words .now").forEach((word) => word.remove());
    }
    link.setAttribute("aria-current", "true");
    const word = document.createElement("b");
    word.className = "now";
    word.textContent = "In hand.";
    link.querySelector(".words").prepend(word, " ");
  }

  async function pageOf(link) {
    const pages = await store.pages.all().catch(() => []);
    return pages.find((page) => page.url === urlOf(link) && page.who === WHO);
  }

  document.addEventListener("outbox:waits", async (event) => {
    const { form } = event.detail;
    if (!form.closest("#hand")) return;
    const waiting = await mark();
    for (const link of inOrder()) {
      if (waiting.has(numberOf(link)) || !form.isConnected) continue;
      const page = await pageOf(link);
      if (page) return show(page, link);
    }
    form.querySelector(".waits").textContent += linksOf(document).some((link) => !waiting.has(numberOf(link)))
      ? " The next board comes with the network." : " That was the last of the run.";
  });

  /** Write beside the boards of the run which of them wait to be sent. Gives their numbers. */
  async function mark() {
    const presses = await store.all().catch(() => []), words = new Map();
    for (const press of presses) {
      const blank = /^\/blanks\/([^/]+)\/$/.exec(press.key);
      if (blank) words.set(decodeURIComponent(blank[1]), press.state === "waiting" ? "Waiting to send." : "Not done, decide.");
    }
    for (const link of linksOf(document)) {
      const said = words.get(numberOf(link)) || "", there = link.querySelector(".waits-word");
      if (there && there.textContent === said) continue;
      if (there) there.remove();
      if (!said) continue;
      const word = document.createElement("b");
      word.className = "waits-word";
      word.textContent = said;
      link.querySelector(".words").prepend(word, " ");
    }
    return new Set(words.keys());
  }

  // A page that is open stays open

  const stays = () => window.camberbook.say("No contact with the shop's machine. That page cannot be fetched now; this one stays.");

  document.addEventListener("click", async (event) => {
    const link = event.target.closest("a[href]");
    if (!outbox.down || !link || event.defaultPrevented || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (link.origin !== location.origin || link.target || link.hasAttribute("download")) return;
    if (link.hash && urlOf(link) === location.pathname + location.search) return;
    event.preventDefault();
    const row = link.closest("#run") && document.getElementById("hand") ? await pageOf(link) : null;
    if (row) return show(row, link);
    if (await whoIs()) location.assign(link.href);
    else stays();
  });

  document.addEventListener("submit", async (event) => {
    const form = event.target, posts = (form.getAttribute("method") || "get").toLowerCase() === "post";
    if (!outbox.down || event.defaultPrevented || form.hasAttribute("target")) return; // a press has been taken already
    event.preventDefault();
    if (await whoIs()) window.camberbook.plainly(form, event.submitter);
    else {
      window.camberbook.unlock(form);
      if (posts) window.camberbook.say("No contact with the shop's machine. This was not sent, and is not kept: leave the page open, and press again later.");
      else stays();
    }
  });

  // Who signs out leaves no pages behind for the next.
  if (!WHO) store.pages.clear().catch(() => {});
  if (!WHO && window.caches) window.caches.delete("camberbook-pages").catch(() => {});
  if (WHO && location.protocol === "https:" && navigator.serviceWorker) navigator.serviceWorker.register("/sw.js").catch(() => {});

  document.addEventListener("outbox:changed", mark);
  document.addEventListener("htmx:afterSettle", (event) => { if (event.target.id === "run") { mark(); fetchAhead(); } });
  window.addEventListener("pageshow", () => { mark(); setTimeout(fetchAhead, START); });
})();
