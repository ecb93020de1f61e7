// Setting up: the list of topics and the new probe follow by themselves, and
// the form shows only what is asked for. Without this script everything is
// there and links load it again.
(function () {
  "use strict";
  const every = 3000; // ms between looks

  // fetchPart returns a part of a page, null while the watch is away.
  async function fetchPart(address) {
    try {
      const answer = await fetch(address, { cache: "no-store", headers: { Accept: "text/html" } });
      if (answer.redirected && new URL(answer.url).pathname === "/sign-in") { location.href = "/sign-in"; return null; }
      if (!answer.ok) return null;
      return new DOMParser().parseFromString(await answer.text(), "text/html").body;
    } catch (e) { return null; }
  }

  function same(have, want) {
    if (have.innerHTML !== want.innerHTML) have.innerHTML = want.innerHTML;
  }

  // Topics keep their place and the keyboard; only what is new in them changes.
  function renewTopics(box, next) {
    const list = box.querySelector("#topics"), fresh = next.querySelector("#topics");
    if (!list || !fresh) {
      box.replaceChildren(...next.childNodes);
      return;
    }
    const status = box.querySelector("#arrivals-status");
    same(status, next.querySelector("#arrivals-status"));
    for (const item of [...fresh.children]) {
      const have = document.getElementById(item.id);
      if (!have) { list.append(item); continue; }
      for (const part of [".payload", ".facts", ".seems"]) same(have.querySelector(part), item.querySelector(part));
    }
  }

  const arrivals = document.querySelector("[data-first]");
  if (arrivals) {
    setInterval(async () => {
      if (document.hidden) return;
      const next = await fetchPart(arrivals.dataset.first);
      if (next) renewTopics(arrivals, next);
    }, every);
  }

  const done = document.querySelector("[data-firstdone]");
  if (done) {
    setInterval(async () => {
      if (document.hidden) return;
      const next = await fetchPart(done.dataset.firstdone);
      if (!next) return;
      const state = next.querySelector("#probenow-state"), have = done.querySelector("#probenow-state");
      if (state.hasAttribute("data-watched") && !have.hasAttribute("data-watched")) {
        location.replace(done.dataset.firstdone.replace(/&part=1$/, "")); // the new watch's own page
        return;
      }
      same(have, state);
    }, every);
  }

  // The form: what belongs to a choice that is not made is not shown.
  const where = document.querySelector("[data-where]");
  function shape() {
    const chosen = where ? where.value : "/";
    for (const part of document.querySelectorAll("[data-newplace]")) part.hidden = !chosen.endsWith("/");
    for (const part of document.querySelectorAll("[data-newhouse]")) part.hidden = chosen !== "/";
    const mail = document.getElementById("tell-mail");
    for (const part of document.querySelectorAll("[data-mail]")) part.hidden = !mail.checked;
  }
  if (document.querySelector("form.setup")) {
    document.addEventListener("change", shape);
    shape();
    const zone = document.querySelector("[data-zone]");
    if (zone && !zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  }
})();
