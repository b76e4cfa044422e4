/* What a press is called in the list of those that wait: "F0107: Radiused", and what was typed under its labels. */
(function () {
  "use strict";

  const clean = (text) => text.replace(/\s+/g, " ").trim();

  function labelOf(box) {
    const label = box.labels && box.labels[0];
    if (!label) return box.getAttribute("aria-label") || "";
    const copy = label.cloneNode(true);
    copy.querySelectorAll(".optional, input, select, textarea").forEach((part) => part.remove());
    return clean(copy.textContent);
  }

  function typedIn(form) {
    if (form.dataset.words !== undefined) return form.dataset.words;
    const parts = [];
    for (const box of form.elements) {
      if (!box.name || box.disabled || box.type === "hidden" || box.matches("button, fieldset, output") || !box.value) continue;
      const tick = box.type === "checkbox" || box.type === "radio";
      if (tick && !box.checked) continue;
      const legend = tick && box.closest("fieldset") && box.closest("fieldset").querySelector("legend");
      const value = tick ? "" : box.matches("select") ? clean(box.selectedOptions[0].textContent) : clean(box.value);
      parts.push([legend ? clean(legend.textContent) : "", labelOf(box), value].filter(Boolean).join(" "));
    }
    return parts.join("; ");
  }

  /** Name a press: the thing, what its button says, and what was typed. */
  function inWords(form, button, key) {
    const number = /^\/(?:blanks|builds)\/([^/]+)\//.exec(key);
    const heading = document.querySelector("h1");
    const thing = number ? decodeURIComponent(number[1]) : heading ? clean(heading.textContent) : "";
    const pressed = clean((button && button.textContent) || "Sent");
    // "Radiused, next board": the second half speaks of the page, not of the board.
    const said = button && button.name ? pressed : pressed.split(", ")[0];
    const says = form.dataset.says ? form.dataset.says + ": " + said.toLowerCase() : said;
    return { subject: thing ? thing + ": " + says : says, words: typedIn(form).slice(0, 300) };
  }

  window.camberbook.inWords = inWords;
})();
