// The house is drawn as one types, by the watch itself. Without this script it is
// drawn when the form is sent.
(function () {
  "use strict";
  const form = document.querySelector("form[data-draws]"), box = document.getElementById("drawn"), not = document.getElementById("undrawn");
  if (!form || !box) return;
  const pause = 200; // ms without typing
  let waiting, asked = 0;

  async function draw() {
    const mine = ++asked;
    try {
      const answer = await fetch("/change/drawing", { method: "POST", body: new URLSearchParams(new FormData(form)), headers: { Accept: "text/html" } });
      const html = answer.status === 200 && !answer.redirected ? await answer.text() : "";
      if (mine !== asked) return; // a newer one is on its way
      if (html) box.innerHTML = html;
      not.hidden = !!html || !box.firstElementChild;
    } catch (e) { not.hidden = mine !== asked; }
  }

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(draw, pause);
  });
})();
