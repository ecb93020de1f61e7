// Looking back: the strip is dragged, or moved with the keyboard; the server
// draws each part of it. Without this script the links beside it do the same.
"use strict";
(function () {
  const section = document.getElementById("strip");
  if (!section || !document.querySelector(".backpage")) return;

  const lengths = ["hour", "6-hours", "day", "3-days", "week", "month", "year", "all"];
  const days = { "hour": 1 / 24, "6-hours": 0.25, "day": 1, "3-days": 3, "week": 7, "month": 31, "year": 366 };
  const dayMillis = 86400000;
  const pause = 160; // ms without a movement before the server is asked
  const renewEvery = 60000; // ms, while the strip ends now

  const said = document.getElementById("backsaid");
  let strip = section.querySelector(".daystrip");
  let wanted = null; // what was asked for last: { zoom, until }, until 0 is now
  let held = null; // { x, until } while a pointer drags
  let timer = 0, asking = null, pushed = 0;

  // drawn says what the strip shows.
  function drawn() {
    const d = strip.dataset;
    const from = Number(d.from), to = Number(d.to);
    return { zoom: d.zoom, from, to, now: Number(d.now), began: Number(d.began), until: Number(d.until) };
  }

  function address(zoom, until) {
    let a = strip.dataset.base + "&zoom=" + zoom;
    if (until && zoom !== "all") a += "&until=" + encodeURIComponent(new Date(until).toISOString().slice(0, 16) + "Z");
    return a;
  }

  // inside keeps the end of a length within what there is; 0 is now.
  function inside(until, is, zoom) {
    if (until >= is.now - 60000) return 0;
    const first = (is.began > 0 ? is.began : is.now) + Math.min(days[zoom], 1) * dayMillis;
    return Math.max(until, Math.min(first, is.now));
  }

  // wide is how wide the whole time is drawn, without what is ahead of now.
  function wide() { return strip.querySelector("svg").getBoundingClientRect().width * Number(strip.dataset.share) / 100; }

  // shift moves the old drawing to where it belongs in what is wanted.
  function shift() {
    const moving = strip.querySelector(".moves");
    if (!wanted || !moving) return;
    const is = drawn();
    const end = wanted.until || is.now, was = is.until || is.now;
    const share = wanted.zoom === is.zoom ? (was - end) / (is.to - is.from) : 0;
    moving.style.transform = "translateX(" + Math.round(share * wide()) + "px)";
    strip.classList.add("waits");
  }

  function want(zoom, until, soon, back) {
    wanted = { zoom, until, back };
    shift();
    clearTimeout(timer);
    timer = setTimeout(ask, soon ? 0 : pause);
  }

  async function ask() {
    if (asking) asking.abort();
    const mine = asking = new AbortController();
    const { zoom, until, back } = wanted;
    const to = address(zoom, until);
    try {
      const answer = await fetch(to + "&part=1", { signal: mine.signal, cache: "no-store", headers: { Accept: "text/html" } });
      if (answer.redirected || answer.status === 401) { location.href = to; return; }
      if (!answer.ok) throw new Error(String(answer.status));
      const html = await answer.text();
      if (mine !== asking) return;
      asking = null;
      put(html);
      if (!back) remember(to);
      if (wanted && wanted.zoom === zoom && wanted.until === until) wanted = null;
      if (wanted) shift();
    } catch (e) {
      if (e.name === "AbortError") return;
      asking = null;
      said.textContent = spoken("stays");
      strip.classList.remove("waits");
      const moving = strip.querySelector(".moves");
      if (moving) moving.style.transform = "";
      wanted = null;
    }
  }

  // put shows a new drawing in place of the old one.
  function put(html) {
    const focused = section.contains(document.activeElement) ? document.activeElement : null;
    const step = focused && focused.dataset.step, onStrip = focused === strip;
    const open = [...section.querySelectorAll("details[open]")].map((d) => d.id);
    const next = new DOMParser().parseFromString(html, "text/html").body;
    section.replaceChildren(...[...next.childNodes].map((n) => document.importNode(n, true)));
    strip = section.querySelector(".daystrip");
    for (const id of open) { const d = document.getElementById(id); if (d) d.open = true; }
    if (held) strip.classList.add("held");
    if (onStrip) strip.focus({ preventScroll: true });
    else if (step) (section.querySelector('[data-step="' + step + '"]') || strip).focus({ preventScroll: true });
    for (const field of document.querySelectorAll(".dayplaces [name=zoom]")) field.value = strip.dataset.zoom;
    keepUntil();
    const title = section.querySelector(".daytitle");
    if (title && !held) said.textContent = title.textContent;
  }

  // keepUntil lets the form of places stay at the time that is shown.
  function keepUntil() {
    const form = document.querySelector(".dayplaces");
    if (!form) return;
    let field = form.querySelector("[name=until]");
    const until = new URLSearchParams(address("day", drawn().until).split("?")[1]).get("until");
    if (!until) { if (field) field.remove(); return; }
    if (!field) {
      field = document.createElement("input");
      field.type = "hidden";
      field.name = "until";
      form.append(field);
    }
    field.value = until;
  }

  // remember writes the address; many steps in a row are one step back.
  function remember(to) {
    if (to === location.pathname + location.search) return;
    if (Date.now() - pushed < 1500) history.replaceState(null, "", to);
    else history.pushState(null, "", to);
    pushed = Date.now();
  }

  function target() {
    const is = drawn();
    return wanted || { zoom: is.zoom, until: is.until };
  }

  // move goes on by a part of the strip's length; lengths move to another one
  // about the same middle.
  function move(part) {
    const is = drawn(), t = target();
    if (t.zoom === "all") return;
    const span = days[t.zoom] * dayMillis;
    want(t.zoom, inside((t.until || is.now) + part * span, is, t.zoom));
  }

  function change(by) {
    const is = drawn(), t = target();
    const zoom = lengths[Math.min(Math.max(lengths.indexOf(t.zoom) + by, 0), lengths.length - 1)];
    if (zoom === t.zoom) return;
    let until = t.until;
    if (until && days[zoom] && days[t.zoom]) until = inside(until + (days[zoom] - days[t.zoom]) / 2 * dayMillis, is, zoom);
    want(zoom, until, true);
  }

  section.addEventListener("pointerdown", (e) => {
    if (e.button !== 0 || !e.target.closest(".daystrip") || target().zoom === "all") return;
    held = { x: e.clientX, until: target().until || drawn().now, id: e.pointerId, moved: false };
  });
  window.addEventListener("pointermove", (e) => {
    if (!held || e.pointerId !== held.id) return;
    const dx = e.clientX - held.x;
    if (!held.moved && Math.abs(dx) < 4) return;
    held.moved = true;
    strip.classList.add("held");
    const is = drawn(), zoom = target().zoom;
    const span = zoom === is.zoom ? is.to - is.from : days[zoom] * dayMillis;
    want(zoom, inside(held.until - dx / wide() * span, is, zoom));
  });
  for (const name of ["pointerup", "pointercancel"]) {
    window.addEventListener(name, (e) => {
      if (!held || e.pointerId !== held.id) return;
      held = null;
      strip.classList.remove("held");
    });
  }

  section.addEventListener("keydown", (e) => {
    if (e.target !== strip || e.ctrlKey || e.metaKey || e.altKey) return;
    const far = e.shiftKey ? 1 : 0.25;
    switch (e.key) {
      case "ArrowLeft": move(-far); break;
      case "ArrowRight": move(far); break;
      case "PageUp": move(-1); break;
      case "PageDown": move(1); break;
      case "End": want(target().zoom, 0, true); break;
      case "+": case "=": change(-1); break;
      case "-": change(1); break;
      default: return;
    }
    e.preventDefault();
  });

  section.addEventListener("click", (e) => {
    const link = e.target.closest("a[data-step]");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey) return;
    e.preventDefault();
    pushed = 0;
    go(link.href, false);
  });

  // go shows what an address of this page says.
  function go(href, back) {
    const q = new URL(href, location.href).searchParams;
    want(q.get("zoom") || "day", q.get("until") ? Date.parse(q.get("until")) : 0, true, back);
  }
  window.addEventListener("popstate", () => {
    const q = new URLSearchParams(location.search), base = new URLSearchParams(strip.dataset.base.split("?")[1]);
    const same = (q.get("house") || base.get("house")) === base.get("house") && String(q.getAll("place")) === String(base.getAll("place"));
    if (!same) { location.reload(); return; }
    go(location.href, true);
  });

  setInterval(() => {
    if (!document.hidden && !held && !wanted && !asking && drawn().until === 0) want(drawn().zoom, 0, true);
  }, renewEvery);
  document.body.classList.add("scriptedstrip");
})();
