/* Never a lost tap. Every form that carries a tap is kept in the browser before it is sent, and goes from there only when
   the shop's machine has said in a header what came of it. With contact this is as any form: the page goes on to where
   the answer leads, or shows what has to be mended. Without, the press waits, the page says so, and the work goes on.

   A second press on the same blank is held back until the first is sent: what the page shows of it would be out of date,
   and no version that the machine knows could be named. Without this script forms are sent as forms. */
(function () {
  "use strict";

  const { store, whoIs, post, settle, sendAll, TAB, CLAIM_MS } = window.camberbook;
  const SOON = 2000, LATER = 10000, EAGER = 120000; // ms between tries; and how long it is tried soon again
  const body = document.body, WHO = body.dataset.who || "", NAME = body.dataset.whoName || "";
  const news = "BroadcastChannel" in window ? new BroadcastChannel("camberbook-outbox") : null;

  const state = { down: navigator.onLine === false, works: true, person: null };

  function tell() {
    document.dispatchEvent(new CustomEvent("outbox:changed"));
    if (news) news.postMessage("changed");
  }
  if (news) news.onmessage = () => document.dispatchEvent(new CustomEvent("outbox:changed"));

  function contact(there) {
    if (state.down === !there) return;
    state.down = !there;
    document.dispatchEvent(new CustomEvent("outbox:changed"));
    if (!there) tryAgain();
    else if (/press again later/.test(document.getElementById("banner")?.textContent)) {
      window.camberbook.say("The shop's machine answers again. What it said was not sent can be pressed again.");
    }
  }

  // What a press is

  function isPress(form, button) {
    const method = (button && button.getAttribute("formmethod")) || form.getAttribute("method") || "get";
    const tap = form.querySelector('input[name="tap"]');
    return Boolean(
      WHO && tap && tap.value && method.toLowerCase() === "post" && !form.hasAttribute("target")
      && form.getAttribute("enctype") !== "multipart/form-data" && !form.hasAttribute("data-direct") && !(button && button.hasAttribute("data-direct"))
      && address(form, button).origin === location.origin
    );
  }

  function address(form, button) {
    return new URL((button && button.getAttribute("formaction")) || form.getAttribute("action") || location.href, location.href);
  }

  const valueOf = (form, name) => (form.querySelector('input[name="' + name + '"]') || { value: "" }).value;

  function describe(form, button) {
    const to = address(form, button), path = to.pathname + to.search;
    const fields = Array.from(new FormData(form)).filter(([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string");
    if (button && button.name) fields.push([button.name, button.value]);
    // What carries no version is about nothing that others change: it waits for nothing and holds up nothing.
    const thing = /^\/(?:(?:blanks|builds|benches)\/[^/]+|kit\/[^/]+\/[^/]+)\//.exec(path);
    const key = valueOf(form, "seen") ? (thing ? thing[0] : path) : "";
    const { subject, words } = window.camberbook.inWords(form, button, key);
    return {
      tap: valueOf(form, "tap"), instead: valueOf(form, "instead"), who: WHO, name: NAME, at: Date.now(), state: "waiting",
      path, key, fields, subject, words, from: location.pathname + location.search,
    };
  }

  // What happens when one is made

  document.addEventListener("submit", (event) => {
    const form = event.target, button = event.submitter;
    if (event.defaultPrevented || !isPress(form, button)) return;
    event.preventDefault();
    press(form, button).catch(() => plainly(form, button));
  });

  async function press(form, button) {
    const one = describe(form, button), token = valueOf(form, "csrfmiddlewaretoken");
    let straight;
    try {
      const kept = await store.all();
      const same = (old) => old.path === one.path && (old.tap === one.tap || old.tap === one.instead);
      const before = one.key && kept.find((old) => old.key === one.key && !same(old));
      if (before) {
        hold(form, before);
        return;
      }
      straight = !state.down && !kept.some((old) => old.state === "waiting" && old.who === WHO && old.tap !== one.tap);
      // Under a name of its own, so that the round that sends what waits leaves it alone meanwhile.
      if (straight) one.claim = { tab: TAB + " press", until: Date.now() + CLAIM_MS };
      one.id = await store.add(one);
    } catch (error) {
      state.works = false;
      return unkept(form, button, one, token);
    }
    askToStay();
    lately = Date.now();
    if (straight) return goOn(form, button, one, await sendNow(one, token));
    if (state.down) flush(); // it does not wait for that
    else {
      const sent = await flush();
      const still = sent && (await store.all()).find((old) => old.tap === one.tap);
      if (sent && sent.done.has(one.tap)) return lead(sent.done.get(one.tap));
      if (still && still.state === "refused") return plainly(form, button, sent.person && sent.person.token);
    }
    waits(form, one);
  }

  /** Send a press at once. Gives {word, what, next, token}. */
  async function sendNow(one, token) {
    let came = await post(one, token, "now");
    if (came.what === "out-of-date") { // somebody signed in since in another tab, or the page is old
      const person = await whoIs();
      if (!person) came = { what: "lost" };
      else if (person.who !== one.who) came = { what: person.who ? "other-person" : "signed-out" };
      else {
        token = person.token;
        came = await post(one, token, "now");
      }
    }
    return Object.assign(came, { token, word: one.id === undefined ? "" : await settle(one, came) });
  }

  function goOn(form, button, one, came) {
    contact(came.what !== "lost");
    if (came.word === "done") return lead(came.next);
    tell();
    if (came.word === "refused") return plainly(form, button, came.token);
    waits(form, one);
    if (came.what === "signed-out" || came.what === "other-person") flush();
  }

  function lead(next) {
    tell();
    const to = new URL(next || location.href, location.href);
    if (to.hash && to.pathname + to.search === location.pathname + location.search) {
      location.hash = to.hash;
      location.reload();
    } else {
      location.assign(to.href);
    }
  }

  /** Send a form as a form: nothing was done, and the page that answers says what stands in the way. */
  function plainly(form, button, token) {
    const field = form.querySelector('input[name="csrfmiddlewaretoken"]');
    if (field && token) field.value = token;
    if (button && button.name) {
      const chosen = document.createElement("input");
      Object.assign(chosen, { type: "hidden", name: button.name, value: button.value });
      form.append(chosen);
    }
    if (button && button.hasAttribute("formaction")) form.setAttribute("action", button.getAttribute("formaction"));
    HTMLFormElement.prototype.submit.call(form);
  }

  /** A browser that keeps nothing: what was typed stays in the page. */
  async function unkept(form, button, one, token) {
    const came = await sendNow(one, token);
    contact(came.what !== "lost");
    if (came.what === "done" || came.what === "done-before") return lead(came.next);
    if (came.what !== "lost") return plainly(form, button, came.token);
    window.camberbook.unlock(form);
    window.camberbook.say("No contact with the shop's machine, and this browser keeps nothing by itself. What you typed is still here: leave this page open, and press again later.");
  }

  function hold(form, before) {
    window.camberbook.unlock(form);
    const words = before.state === "refused" ? "was not done and waits for a decision. Decide that first."
      : before.who === WHO ? "waits to be sent. It goes first." : "waits for " + before.name + " to sign in. It goes first.";
    window.camberbook.say("Not sent yet, and nothing is lost of what you typed here: " + before.subject + " " + words);
    document.dispatchEvent(new CustomEvent("outbox:open"));
  }

  function waits(form, one) {
    form.dataset.waiting = one.tap;
    form.dataset.sent = "";
    window.camberbook.unlock(form);
    let line = form.querySelector(".waits");
    if (!line) {
      line = document.createElement("p");
      line.className = "waits";
      line.setAttribute("role", "status");
      const last = form.querySelector("button[data-go]") || form.querySelector("button:not([type=button])");
      if (last) last.before(line);
      else form.append(line);
    }
    line.textContent = "Waiting to send. It is kept here, also when this page is closed.";
    tell();
    document.dispatchEvent(new CustomEvent("outbox:waits", { detail: { press: one, form } }));
    tryAgain();
  }

  let asked = false;
  function askToStay() { // or the browser may clear it away when the disk is full; only https can ask
    if (!asked && navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
    asked = true;
  }

  // What waits is sent when there is contact again: that the browser thinks it is online says little.

  let running = null, timer = 0, lately = Date.now(); // when something was pressed or arrived, or somebody looked

  function flush() {
    clearTimeout(timer);
    running = running || sendAll().then(sent, () => null).finally(() => { running = null; });
    return running;
  }

  function sent(round) {
    state.person = round.person;
    contact(round.contact);
    round.done.forEach((next, tap) => {
      const form = Array.from(document.querySelectorAll("form[data-waiting]")).find((each) => each.dataset.waiting === tap);
      if (form) sentSince(form, next);
    });
    if (round.done.size) lately = Date.now();
    tell();
    tryAgain();
    return round;
  }

  function sentSince(form, next) {
    const line = form.querySelector(".waits"), link = document.createElement("a");
    link.href = next || location.href;
    link.textContent = "Go on";
    link.className = "button";
    line.replaceChildren("It is sent. ", link);
  }

  async function tryAgain() {
    clearTimeout(timer);
    const waiting = WHO && (await store.all().catch(() => [])).some((one) => one.state === "waiting" && one.who === WHO);
    clearTimeout(timer);
    if (waiting || state.down) timer = setTimeout(flush, Date.now() - lately < EAGER ? SOON : LATER);
  }

  const look = () => { if (!document.hidden) { lately = Date.now(); tryNow(); } };
  async function tryNow() {
    const all = await store.all().catch(() => { state.works = false; return []; });
    if (WHO && (state.down || all.some((one) => one.state === "waiting"))) flush();
    document.dispatchEvent(new CustomEvent("outbox:changed"));
  }

  window.addEventListener("online", look);
  window.addEventListener("offline", () => contact(false));
  window.addEventListener("pageshow", look);
  document.addEventListener("visibilitychange", look);
  document.addEventListener("htmx:afterRequest", (event) => { if (event.detail.successful && state.down) { contact(true); tryNow(); } });
  document.addEventListener("htmx:sendError", () => contact(false));

  // This page is the answer to a press: what was typed stands in it, and has no need to stand in the list as well.
  const answers = body.dataset.answers;
  if (answers && !("rehearses" in body.dataset)) {
    store.removeWhere((one) => one.tap === answers && (one.what === "to-mend" || one.what === "asked")).then(tell, () => {});
  }

  Object.assign(window.camberbook, { outbox: state, flush, plainly, tell, WHO });
})();
