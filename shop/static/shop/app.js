/* Small comforts on top of pages that work without them: one press sends once, a plain line when the shop's
   machine cannot be reached, and the cursor in the first field that is not right or is asked about. */
(function () {
  "use strict";

  var UNLOCK_AFTER = 8000; // as long as a request may take: afterwards the form may be sent again

  function lock(form) {
    form.dataset.sent = "";
    form.setAttribute("aria-busy", "true");
    setTimeout(unlock, UNLOCK_AFTER, form);
  }

  function unlock(form) {
    form.removeAttribute("aria-busy");
    if (!("waiting" in form.dataset)) delete form.dataset.sent; // what waits in the outbox is sent from there
  }

  // Capture, so that a second press is stopped before htmx hears of it.
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.method !== "post" || form.target) return;
    if ("sent" in form.dataset) {
      event.preventDefault();
      event.stopImmediatePropagation();
    } else {
      lock(form);
    }
  }, true);

  document.addEventListener("htmx:afterRequest", function (event) {
    var form = event.target.closest && event.target.closest("form");
    if (form) unlock(form);
    if (event.detail.successful && !lasting) say("");
  });

  // A page that the browser kept and shows again must not stay locked.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(unlock);
  });

  var lasting = false;

  // What answers a press stays until the next one; that the page could not refresh itself, until it can.
  function say(words, isAnswer) {
    var banner = document.getElementById("banner");
    lasting = Boolean(isAnswer);
    if (banner && banner.textContent !== words) banner.textContent = words;
  }

  // A page that only looked for news has lost nothing; a press may or may not have arrived.
  function asked(event) {
    return event.detail.requestConfig && event.detail.requestConfig.verb === "get";
  }

  document.addEventListener("htmx:sendError", function (event) {
    say(asked(event) ? "No contact with the shop's machine. What stands here may be out of date."
      : "No contact with the shop's machine. What you typed is still here, try again.");
  });
  document.addEventListener("htmx:timeout", function (event) {
    say(asked(event) ? "The shop's machine is slow to answer. What stands here may be out of date."
      : "No answer yet. It may have been saved: reload to see before trying again.");
  });
  document.addEventListener("htmx:responseError", function (event) {
    var status = event.detail.xhr.status;
    if (status === 403) say("Refused. Reload the page and sign in again.");
    else if (status === 404) say("Not found. It may have been removed: reload the page.");
    else say("Something failed on the shop's machine. Reload to see what was saved.");
  });

  window.camberbook = Object.assign(window.camberbook || {}, { unlock: unlock, say: function (words) { say(words, true); } });

  function focusWrong(root) {
    var wrong = root.querySelector && root.querySelector('[data-look-first], [aria-invalid="true"], .questions input');
    if (wrong) wrong.focus();
  }

  document.addEventListener("htmx:afterSettle", function (event) { focusWrong(event.target); });
  document.addEventListener("DOMContentLoaded", function () { focusWrong(document); });
})();
