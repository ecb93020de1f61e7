// What comes of a test message, followed until nothing more will come. Without
// this script the link on the page looks again.
(function () {
  "use strict";
  const part = document.getElementById("tested");
  if (!part) return;

  const often = 1000, seldom = 5000; // ms between looks
  const soon = 60000, longest = 600000; // ms in which one looks often, and at all
  const began = Date.now();

  function next() {
    const gone = Date.now() - began;
    if (part.querySelector(".lookagain") && gone < longest) setTimeout(look, gone < soon ? often : seldom);
  }

  async function look() {
    try {
      const answer = await fetch(part.dataset.part, { cache: "no-store", headers: { Accept: "text/html" } });
      if (answer.redirected || answer.status === 401) { location.reload(); return; }
      if (answer.ok) put(await answer.text());
      else away();
    } catch (e) { away(); }
    next();
  }

  // put shows what is new; the sentence stays the same element, so that who
  // listens hears it when it changes.
  function put(html) {
    const fresh = new DOMParser().parseFromString(html, "text/html").body;
    const said = fresh.querySelector("[role=status]");
    say(said.textContent);
    said.remove();
    const held = part.contains(document.activeElement);
    while (part.lastElementChild !== status()) part.lastChild.remove();
    part.append(...[...fresh.childNodes].map((n) => document.importNode(n, true)));
    const link = part.querySelector("a");
    if (held && link) link.focus({ preventScroll: true });
  }

  function status() { return part.querySelector("[role=status]"); }

  function say(words) {
    if (status().textContent !== words) status().textContent = words;
  }

  function away() {
    say(spoken("before"));
  }

  next();
})();
