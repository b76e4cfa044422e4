/* The list of what waits to be sent, on every page: how much, since when, whose; and of what was not done, until somebody
   decides about it. */
(function () {
  "use strict";

  const { store, whoIs, outbox, flush, tell, WHO } = window.camberbook;
  const place = document.getElementById("outbox");
  if (!place) return;
  let open = false, asking = 0; // the press that is about to be dropped

  function make(name, attributes, ...inside) {
    const node = document.createElement(name);
    for (const [key, value] of Object.entries(attributes || {})) {
      if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
      else node.setAttribute(key, value);
    }
    node.append(...inside.filter((part) => part !== ""));
    return node;
  }

  function since(at) {
    const then = new Date(at), time = then.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
    return then.toDateString() === new Date().toDateString() ? time : then.toLocaleDateString([], { day: "numeric", month: "short" }) + ", " + time;
  }

  const waiting = (one) => one.state === "waiting";

  function summary(all) {
    const words = [], mine = all.filter((one) => waiting(one) && one.who === WHO), others = all.filter((one) => waiting(one) && one.who !== WHO);
    const refused = all.length - mine.length - others.length;
    if (outbox.down) words.push("No contact with the shop's machine.");
    if (mine.length) words.push(mine.length + " waiting to send.");
    const names = [...new Set(others.map((one) => one.name))].join(" and ");
    if (others.length) words.push((mine.length || others.length > 1 ? others.length + " wait" : "1 waits") + " for " + names + " to sign in" + (WHO ? "" : " here") + ".");
    if (refused) words.push(refused + (refused === 1 ? " was" : " were") + " not done: decide about " + (refused === 1 ? "it" : "them") + ".");
    if (outbox.down && !all.length && outbox.works) words.push("What you press is kept and sent later.");
    if (mine.length && outbox.person && outbox.person.who !== WHO) words.push("You are signed out.");
    return words.join(" ");
  }

  async function draw() {
    const here = document.body.dataset.answers; // the page is about this one anyway
    const all = (await store.all().catch(() => [])).filter((one) => one.tap !== here || waiting(one));
    const words = summary(all);
    place.hidden = !words;
    place.classList.toggle("refused", all.some((one) => !waiting(one)));
    if (!words) {
      open = false;
      place.replaceChildren();
      return;
    }
    const focused = place.contains(document.activeElement) ? document.activeElement.dataset.does : "";
    const line = place.querySelector(".sum") || make("p", { class: "sum", role: "status" });
    if (line.textContent !== words) line.textContent = words;
    const head = make("div", { class: "outbox-head" }, line);
    if (outbox.person && outbox.person.who !== WHO && all.some(waiting)) head.append(signIn());
    if (all.length) {
      const does = open ? "Close the list" : all.length === 1 ? "Look at it" : "Look at them";
      head.append(make("button", { type: "button", "data-does": "list", "aria-expanded": String(open), onclick: () => { open = !open; draw(); } }, does));
    }
    place.replaceChildren(head);
    if (open) place.append(make("ol", { class: "presses-kept" }, ...all.map(row)));
    const again = focused && place.querySelector('[data-does="' + focused + '"]');
    if (again) again.focus({ preventScroll: true });
  }

  function signIn() {
    return make("a", { class: "button", href: "/sign-in/?next=" + encodeURIComponent(location.pathname + location.search) }, "Sign in");
  }

  function row(one) {
    const signedOut = one.who !== WHO || (outbox.person && outbox.person.who !== WHO);
    const state = !waiting(one) ? "Not done. " + (one.why || "")
      : signedOut ? "Waits for " + one.name + " to sign in." : outbox.down ? "Waiting to send." : "Being sent.";
    const item = make("li", waiting(one) ? {} : { class: "refused" },
      make("p", { class: "what" }, make("b", {}, one.subject), one.words ? " " + one.words : ""),
      make("p", { class: "soft" }, state + " Pressed by " + one.name + ", " + since(one.at) + "."));
    const presses = make("p", { class: "presses" });
    if (asking === one.id) {
      presses.append(make("span", {}, waiting(one) ? "It is not done then, unless it has arrived already. Drop it?" : "It is not done then. Drop it?"),
      make("button", { type: "button", class: "stop-button", "data-does": "drop" + one.id, onclick: () => drop(one) }, "Drop it"),
      make("button", { type: "button", onclick: () => { asking = 0; draw(); } }, "Keep it"));
    } else {
      if (!waiting(one) && one.who === WHO) presses.append(make("button", { type: "button", "data-does": "look" + one.id, onclick: () => look(one) }, "Look at it, send it again"));
      presses.append(make("button", { type: "button", class: "quiet", "data-does": "drop" + one.id, onclick: () => { asking = one.id; draw(); } }, "Drop it"));
    }
    item.append(presses);
    return item;
  }

  async function drop(one) {
    asking = 0;
    await store.remove(one.id);
    tell();
    flush(); // what waited behind it
  }

  /** Open the page that shows both versions: what was typed, and what is there now. Nothing is sent by that. */
  async function look(one) {
    const person = await whoIs();
    if (!person || person.who !== one.who) {
      window.camberbook.say(person ? "Sign in as " + one.name + " to look at it." : "No contact with the shop's machine. What was typed stands in the list.");
      return;
    }
    const form = make("form", { method: "post", action: one.path, hidden: "" });
    for (const [name, value] of [...one.fields, ["rehearse", "1"], ["csrfmiddlewaretoken", person.token]]) {
      form.append(make("input", { type: "hidden", name, value }));
    }
    document.body.append(form);
    form.submit();
  }

  document.addEventListener("outbox:changed", draw);
  document.addEventListener("outbox:open", () => { open = true; draw(); });

  // "Leave it as it is, drop mine" on the page that showed both versions.
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-drops]");
    if (!link || !link.dataset.drops || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    store.removeWhere((one) => one.tap === link.dataset.drops).then(tell, () => {}).then(() => location.assign(link.href));
  });

  draw();
})();
