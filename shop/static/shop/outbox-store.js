/* Where presses wait that could not be sent yet: the browser's own database, which outlives reloads and restarts.

   presses  one for each press, in their order: where it goes, its fields, whose it is, since when, in words
   pages    boards' pages fetched ahead, to work on from while the network is gone

   All tabs of a browser share it. Who sends a press first claims it for a while, inside one transaction, so two tabs do
   not send at once; a tab that was closed in the middle loses its claim by time. (The browser's own locks would need
   https.) */
(function () {
  "use strict";

  const NAME = "camberbook", VERSION = 1;
  let opened = null;

  function open() {
    opened = opened || new Promise((resolve, reject) => {
      const asked = indexedDB.open(NAME, VERSION); // throws where a browser has none
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore("presses", { keyPath: "id", autoIncrement: true });
        asked.result.createObjectStore("pages", { keyPath: "url" });
      };
      asked.onsuccess = () => {
        asked.result.onversionchange = () => asked.result.close();
        asked.result.onclose = () => { opened = null; };
        resolve(asked.result);
      };
      asked.onerror = () => reject(asked.error);
    });
    return opened;
  }

  /** Do something in one transaction, and give what `act` left in `box.answer` once it is kept. */
  async function within(name, mode, act) {
    const base = await open();
    return new Promise((resolve, reject) => {
      // Strict: on the disk before anybody is told that it is kept.
      const transaction = base.transaction(name, mode, { durability: "strict" });
      const box = {};
      transaction.oncomplete = () => resolve(box.answer);
      transaction.onabort = () => reject(transaction.error);
      act(transaction.objectStore(name), box);
    });
  }

  /** Hand all presses, the oldest first, to `use`, which may write. */
  function withAll(mode, use) {
    return within("presses", mode, (store, box) => {
      const asked = store.getAll();
      asked.onsuccess = () => use(store, asked.result, box);
    });
  }

  const all = () => withAll("readonly", (store, presses, box) => { box.answer = presses; });

  /** Keep a press, in the place of the one that it was made instead of. A tap stands in it once. */
  const add = (press) => withAll("readwrite", (store, presses, box) => {
    for (const old of presses) {
      if (old.tap === press.instead && old.path === press.path && old.who === press.who) store.delete(old.id);
    }
    const same = presses.find((old) => old.tap === press.tap && old.path === press.path);
    if (same) press.id = same.id; // pressed again on a page that came back: what stands there now counts
    store.put(press).onsuccess = (event) => { box.answer = event.target.result; };
  });

  /** Claim the next press that `who` may send; null if there is none, or if another tab is sending.

      What is pressed on one thing goes in its order: while an earlier press on the same blank was refused, or is
      another person's, later ones wait behind it, as they were meant to come after it. Other blanks go on. */
  const take = (who, tab, ms) => withAll("readwrite", (store, presses, box) => {
    const blocked = new Set(), now = Date.now();
    box.answer = null;
    for (const press of presses) {
      const mine = press.who === who && press.state === "waiting";
      if (!mine || (press.key && blocked.has(press.key))) {
        if (press.key) blocked.add(press.key);
        continue;
      }
      const claim = press.claim;
      // A claim that reaches further than any claim does is from a clock that has been set back since.
      if (claim && claim.tab !== tab && claim.until > now && claim.until < now + 2 * ms) return;
      press.claim = { tab: tab, until: now + ms };
      store.put(press);
      box.answer = press;
      return;
    }
  });

  /** Change a press that is still there. */
  const change = (id, changes) => within("presses", "readwrite", (store) => {
    const asked = store.get(id);
    asked.onsuccess = () => { if (asked.result) store.put(Object.assign(asked.result, changes)); };
  });

  const remove = (id) => within("presses", "readwrite", (store) => { store.delete(id); });

  const removeWhere = (test) => withAll("readwrite", (store, presses) => {
    for (const press of presses) if (test(press)) store.delete(press.id);
  });

  const pages = {
    all: () => within("pages", "readonly", (store, box) => {
      const asked = store.getAll();
      asked.onsuccess = () => { box.answer = asked.result; };
    }),
    put: (page) => within("pages", "readwrite", (store) => { store.put(page); }),
    remove: (url) => within("pages", "readwrite", (store) => { store.delete(url); }),
    clear: () => within("pages", "readwrite", (store) => { store.clear(); }),
  };

  window.camberbook = window.camberbook || {};
  window.camberbook.store = { all, add, take, change, remove, removeWhere, pages };
})();
