// Live updates for the page. Without this script everything still works: forms
// post and the page loads again.
"use strict";
(function () {
  const body = document.body;
  if (!body.dataset.live) return;

  const silentAfter = 8000; // ms without news: the page shows the past
  const pauses = [1, 2, 4, 8, 15, 30]; // s between tries, a fifth more or less
  const chartsEvery = 60000; // ms
  const hiddenFor = 60000; // ms in the background before the connection is given up

  const past = document.getElementById("past");
  const said = document.getElementById("said");
  const title = document.title;
  let source = null, heard = Date.now(), tries = 0, retry = 0, rest = 0, stopped = false, still = false;
  let clock = text(".clock");
  let forget = 0;
  let standing = open(); // alarms that were said, or stood there from the beginning

  function text(selector) {
    const found = document.querySelector(selector);
    return found ? found.textContent : "";
  }

  // follow opens the connection, after asking whether we are still signed in.
  async function follow() {
    clearTimeout(retry);
    retry = 0;
    if (source) return;
    try {
      const answer = await fetch("/signed-in", { cache: "no-store", headers: { Accept: "application/json" } });
      if (answer.status === 401) { location.href = "/sign-in"; return; }
    } catch (e) { return later(); }
    if (source) return;
    source = new EventSource(body.dataset.live);
    source.addEventListener("news", (e) => take(JSON.parse(e.data)));
    source.addEventListener("bye", () => { stopped = true; later(); tellPast(); });
    source.addEventListener("out", () => { location.href = "/sign-in"; });
    source.onerror = later;
  }

  // later gives this connection up and tries again after a growing pause.
  function later() {
    leave();
    if (retry) return;
    const pause = pauses[Math.min(tries++, pauses.length - 1)] * 1000;
    retry = setTimeout(follow, pause * (0.8 + 0.4 * Math.random()));
  }

  function leave() {
    if (source) source.close();
    source = null;
  }

  function take(news) {
    heard = Date.now();
    tries = 0;
    body.dataset.live = body.dataset.live.split("?")[0]; // from now on the page is another than it was drawn
    stopped = false;
    still = news.still;
    clock = news.clock;
    if (news.shape !== body.dataset.shape) { // other houses, or the watch was started anew
      location.reload();
      return;
    }
    for (const id of Object.keys(news.pieces)) {
      const there = document.getElementById(id);
      if (there) renew(there, news.pieces[id]);
    }
    body.classList.add("live");
    tellPast();
    tellRaised();
  }

  // open are the alarms that nobody has taken yet, with their priority.
  function open() {
    const all = new Map();
    for (const one of document.querySelectorAll("#alarms .alarm:not(.quiet)")) all.set(one.id, ["low", "medium", "high"].findIndex((p) => one.matches("." + p)));
    return all;
  }

  // tellRaised says to who listens which alarms are new or worse than they were.
  function tellRaised() {
    const now = open(), fresh = [];
    for (const [id, rank] of now) if (!standing.has(id) || standing.get(id) < rank) fresh.push(document.getElementById(id + "-what").innerText);
    standing = now;
    if (!fresh.length) return;
    const raised = document.getElementById("raised");
    raised.textContent = spoken("new", fresh.join(" "));
    clearTimeout(forget);
    forget = setTimeout(() => { raised.textContent = ""; }, 20000); // nobody shall find old news there
  }

  // tellPast says, or stops saying, that this page shows the past.
  function tellPast() {
    const silent = stopped || Date.now() - heard > silentAfter;
    body.classList.toggle("past", silent || still);
    if (!silent) { past.hidden = true; return; }
    const now = spoken(stopped ? "stopped" : "silent", clock);
    if (past.textContent !== now) past.textContent = now;
    past.hidden = false;
  }

  // renew makes an element's content that of html, and keeps what is being
  // typed, opened or held by the keyboard.
  function renew(there, html) {
    const next = new DOMParser().parseFromString(html, "text/html").body;
    const held = there.contains(document.activeElement) ? document.activeElement : null;
    children(there, next);
    if (held && !held.isConnected) {
      const head = there.querySelector("h2");
      if (head) { head.tabIndex = -1; head.focus({ preventScroll: true }); }
    }
    const count = open().size;
    document.title = (count ? "(" + count + ") " : "") + title;
  }

  function children(there, next) {
    const named = new Map();
    for (const child of there.children) if (child.id) named.set(child.id, child);
    let at = there.firstChild;
    for (const want of [...next.childNodes]) {
      let have = null;
      if (want.nodeType === 1 && want.id) have = named.get(want.id) || null;
      else if (at && !(at.nodeType === 1 && at.id) && at.nodeName === want.nodeName) have = at;
      if (!have) { there.insertBefore(document.importNode(want, true), at); continue; }
      // What holds the keyboard would lose it if it moved: the others move.
      if (have.contains(document.activeElement)) while (at !== have) { const passed = at; at = at.nextSibling; there.append(passed); }
      if (have === at) at = at.nextSibling;
      else there.insertBefore(have, at);
      same(have, want);
    }
    while (at) { const gone = at; at = at.nextSibling; gone.remove(); }
  }

  function same(have, want) {
    if (have.nodeType !== 1) {
      if (have.data !== want.data) have.data = want.data;
      return;
    }
    if (have.nodeName !== want.nodeName) { have.replaceWith(document.importNode(want, true)); return; }
    const typed = have.matches("input:not([type=hidden]), select");
    for (const a of [...have.attributes]) if (!want.hasAttribute(a.name) && !mine(have, a.name)) have.removeAttribute(a.name);
    for (const a of want.attributes) {
      if (typed && a.name === "value") continue;
      if (have.getAttribute(a.name) !== a.value) have.setAttribute(a.name, a.value);
    }
    if (!typed) children(have, want);
  }

  // mine tells which attributes belong to the person, not to the watch.
  function mine(element, name) {
    return name === "tabindex" || (name === "open" && element.nodeName === "DETAILS");
  }

  function say(words) {
    said.textContent = "";
    said.textContent = words;
  }

  // Forms are sent without leaving the page.
  document.addEventListener("submit", async (e) => {
    const form = e.target;
    if (!form.matches("form.act")) return;
    e.preventDefault();
    if (form.dataset.busy) return;
    form.dataset.busy = "1";
    const data = new URLSearchParams(new FormData(form));
    data.set("who", document.getElementById("who").value);
    try {
      const answer = await fetch(form.action, { method: "POST", body: data, headers: { Accept: "application/json" } });
      if (answer.status === 401) { location.href = "/sign-in"; return; }
      const words = await answer.json();
      if (words.see) { location.href = words.see; return; }
      say(words.said || words.error);
      if (answer.ok && !source) location.reload();
    } catch (err) {
      say(spoken("undone"));
    } finally {
      delete form.dataset.busy;
    }
  });

  async function renewCharts() {
    if (document.hidden || body.classList.contains("past")) return;
    for (const part of document.querySelectorAll("[data-again]")) {
      try {
        const answer = await fetch(part.dataset.again, { cache: "no-store", headers: { Accept: "text/html" } });
        if (answer.ok && !answer.redirected) renew(part, await answer.text());
      } catch (e) { return; }
    }
  }

  document.addEventListener("visibilitychange", () => {
    clearTimeout(rest);
    if (document.hidden) { rest = setTimeout(() => { leave(); clearTimeout(retry); retry = 0; }, hiddenFor); return; }
    tries = 0;
    tellPast();
    follow();
  });
  window.addEventListener("online", () => { tries = 0; follow(); });
  window.addEventListener("pageshow", (e) => { if (e.persisted) { leave(); follow(); } });

  body.classList.add("scripted");
  setInterval(tellPast, 1000);
  setInterval(renewCharts, chartsEvery);
  follow();
})();
