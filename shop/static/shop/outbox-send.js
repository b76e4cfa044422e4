/* How a press is sent, and what came of it. The answer says so in headers (shop/outbox.py); without them it counts as no
   answer at all, whatever its status: a sign-in page is no "done". */
(function () {
  "use strict";

  const { store } = window.camberbook;
  const TAB = String(Math.random()).slice(2); // told apart from other tabs, nothing more
  const ASK_MS = 5000, SEND_MS = 8000, CLAIM_MS = 20000;
  const TRIES = 3; // of a press that the machine fails on, before somebody has to look
  const DAYS = 50; // the shop's machine knows a tap for 60

  async function get(path, options, ms) {
    const stop = new AbortController(), late = setTimeout(() => stop.abort(), ms);
    try {
      return await fetch(path, Object.assign({ credentials: "same-origin", cache: "no-store", redirect: "manual", signal: stop.signal }, options));
    } catch (error) {
      return null; // no network, no server, or no answer in time
    } finally {
      clearTimeout(late);
    }
  }

  /** Ask who is signed in: {who, name, token}; {who: ""} if nobody; null if there is no contact. */
  async function whoIs() {
    const answer = await get("/outbox/", { headers: { Outbox: "later" } }, ASK_MS);
    if (answer === null) return null;
    if (answer.headers.get("Tap-Outcome") === "signed-out") return { who: "", name: "", token: "" };
    try {
      return answer.ok ? await answer.json() : null;
    } catch (error) {
      return null; // some other machine answers in our place
    }
  }

  /** Send one press. Gives {what, next, words, status}; what: lost, unclear, or what the shop's machine says of it. */
  async function post(press, token, how) {
    const fields = new URLSearchParams();
    for (const [name, value] of press.fields) fields.append(name, value);
    const headers = {
      "Content-Type": "application/x-www-form-urlencoded;charset=UTF-8",
      "X-CSRFToken": token,
      "Outbox": how,
      "Outbox-By": press.who,
      "Outbox-Waited": String(Math.max(0, Math.round((Date.now() - press.at) / 1000))),
    };
    const answer = await get(press.path, { method: "POST", body: fields.toString(), headers }, SEND_MS);
    if (answer === null || [429, 502, 503, 504].includes(answer.status)) return { what: "lost" };
    if (answer.headers.get("Tap") !== press.tap) return { what: "unclear", status: answer.status };
    const what = answer.headers.get("Tap-Outcome") || (answer.status === 200 ? "asked" : "unclear");
    const plain = (answer.headers.get("Content-Type") || "").startsWith("text/plain");
    const words = what === "refused" && plain ? (await answer.text().catch(() => "")).slice(0, 500) : "";
    return { what, words, next: answer.headers.get("Tap-Next") || "", status: answer.status };
  }

  const UNKNOWN = "The shop's machine does not take it. Look at it.";
  const REASONS = {
    "to-mend": "Something in it has to be mended or confirmed first.",
    "asked": "It asks for more before it is kept.",
  };

  /** Write down what came of a press. Gives what, in one word: done, lost, kept (waits on) or refused. */
  async function settle(press, came) {
    if (came.what === "done" || came.what === "done-before") {
      await store.remove(press.id);
      return "done";
    }
    if (came.what === "lost") {
      await store.change(press.id, { claim: null });
      return "lost";
    }
    if (came.what === "signed-out" || came.what === "other-person") {
      await store.change(press.id, { claim: null });
      return "kept";
    }
    if (came.what === "unclear" || came.what === "out-of-date") {
      const tries = (press.tries || 0) + 1;
      const gaveUp = tries >= TRIES ? { state: "refused", why: "The shop's machine failed on it three times." } : {};
      await store.change(press.id, Object.assign({ claim: null, tries }, gaveUp));
      return gaveUp.state || "lost";
    }
    await store.change(press.id, { claim: null, state: "refused", what: came.what, why: came.words || REASONS[came.what] || UNKNOWN });
    return "refused";
  }

  /** Send what waits, one after another. Gives {contact, person, done: Map of tap to where it leads}. */
  async function sendAll() {
    const done = new Map(), person = await whoIs();
    if (!person) return { contact: false, person: null, done };
    if (!person.who) return { contact: true, person, done };
    for (;;) {
      const press = await store.take(person.who, TAB, CLAIM_MS);
      if (!press) return { contact: true, person, done };
      if (Date.now() - press.at > DAYS * 864e5) {
        await store.change(press.id, { claim: null, state: "refused", why: "It has waited for more than " + DAYS + " days." });
        continue;
      }
      const came = await post(press, person.token, "later");
      const word = await settle(press, came);
      if (word === "done") done.set(press.tap, came.next);
      if (word === "lost" || word === "kept") return { contact: came.what !== "lost", person, done };
    }
  }

  Object.assign(window.camberbook, { whoIs, post, settle, sendAll, TAB, CLAIM_MS });
})();
