// Values under the pointer: where it stands over a strip, the time and what each
// line has there. Who listens has the same as text beside the strip.
"use strict";
(function () {
  const near = 15; // thousandths of the strip beside which a line says nothing any more
  const known = new WeakMap(); // lines that were read: path to its points
  let box = null, rule = null;

  // pointsOf reads a path of M, L and H: pieces [x0, y, x1].
  function pointsOf(path) {
    if (known.has(path)) return known.get(path);
    const out = [];
    for (const [, how, a, b] of path.getAttribute("d").matchAll(/([MLH])(-?[\d.]+)(?:,(-?[\d.]+))?/g)) {
      if (how === "H" && out.length) out[out.length - 1][2] = Number(a);
      else out.push([Number(a), Number(b), Number(a)]);
    }
    known.set(path, out);
    return out;
  }

  // valueAt is what a line has at x, null for nothing near.
  function valueAt(path, x) {
    let best = null, off = near;
    for (const p of pointsOf(path)) {
      const d = Math.max(p[0] - x, x - p[2], 0);
      if (d < off) { off = d; best = p; }
    }
    return best;
  }

  function hide() {
    for (const e of [box, rule]) if (e) e.remove();
    box = rule = null;
  }

  function clock(strip, at) {
    const d = strip.dataset, days = Number(d.to) - Number(d.from) > 40 * 86400000;
    const form = { timeZone: d.zone, weekday: "short", day: "numeric", month: "short" };
    if (days) form.year = "numeric";
    else Object.assign(form, { hour: "2-digit", minute: "2-digit", hour12: d.hours === "12" });
    return new Intl.DateTimeFormat({ en: "en-GB" }[document.documentElement.lang] || document.documentElement.lang, form).format(new Date(at));
  }

  function show(strip, clientX) {
    const whole = strip.querySelector("svg").getBoundingClientRect(), d = strip.dataset;
    const width = whole.width * Number(d.share) / 100, x = (clientX - whole.left) / width * 1000;
    const said = [];
    let at = x;
    if (x >= 0 && x <= 1000) {
      for (const path of strip.querySelectorAll("[data-read]")) {
        const p = valueAt(path, x);
        if (!p) continue;
        const r = JSON.parse(path.dataset.read);
        const v = r.v[0] + (p[1] - r.y[0]) / (r.y[1] - r.y[0]) * (r.v[1] - r.v[0]);
        if (!said.length) at = Math.min(Math.max(x, p[0]), p[2]);
        if (r.s) said.push([r.n, r.s[v < 0.5 ? 0 : 1]]);
        else said.push([r.n, v.toFixed(r.d).replace("-", "−").replace(".", r.p) + (r.u && "\u00a0" + r.u)]);
      }
    }
    if (!said.length) { hide(); return; }
    if (!box || box.parentNode !== strip) {
      hide();
      box = document.createElement("div");
      rule = document.createElement("div");
      box.className = "readout"; rule.className = "readrule";
      box.setAttribute("aria-hidden", "true");
      strip.append(rule, box);
    }
    const time = document.createElement("b");
    time.textContent = clock(strip, Number(d.from) + at / 1000 * (Number(d.to) - Number(d.from)));
    box.replaceChildren(time, ...said.map(([name, value]) => {
      const line = document.createElement("span"), v = document.createElement("b");
      v.textContent = value;
      line.append(name + " ", v);
      return line;
    }));
    const left = whole.left - strip.getBoundingClientRect().left + at / 1000 * width;
    rule.style.left = left + "px";
    const room = strip.clientWidth - box.offsetWidth;
    box.style.left = Math.max(0, Math.min(left < strip.clientWidth / 2 ? left + 10 : left - 10 - box.offsetWidth, room)) + "px";
  }

  function look(e) {
    const strip = e.target.closest && e.target.closest(".daystrip");
    if (!strip || !strip.dataset.zone || strip.matches(".held, .waits") || e.target.closest("a")) hide();
    else show(strip, e.clientX);
  }
  document.addEventListener("pointermove", look);
  document.addEventListener("pointerdown", look);
  document.addEventListener("pointerleave", (e) => { if (e.pointerType !== "touch") hide(); }); // a finger that is lifted has read nothing yet
  document.addEventListener("keydown", (e) => { if (e.key === "Escape") hide(); });
})();
