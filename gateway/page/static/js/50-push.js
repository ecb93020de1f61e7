// Registers this device to take alarms while the page is closed. Every sentence
// stands in the page; this shows the one that holds.
(function () {
  "use strict";
  const root = document.querySelector("[data-push]");
  if (!root) return;
  const form = document.getElementById("push-on"), off = document.getElementById("push-off");
  const wrong = document.getElementById("wrong");

  function show(state) {
    for (const part of root.querySelectorAll("[data-is]")) part.hidden = part.dataset.is !== state;
    if (form) form.hidden = !["off", "forgotten", "lapsed"].includes(state);
    off.hidden = state !== "on";
  }

  function say(text) {
    wrong.textContent = text;
    wrong.hidden = !text;
  }

  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0));
  const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=/g, "");

  async function mark(endpoint) {
    const sum = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(endpoint));
    return [...new Uint8Array(sum)].map((b) => b.toString(16).padStart(2, "0")).join("");
  }

  // ofThisWatch reports whether a subscription is for the key of this watch.
  function ofThisWatch(subscription) {
    const key = subscription.options && subscription.options.applicationServerKey;
    return !key || text(key) === root.dataset.push;
  }

  async function subscription() {
    const registration = await navigator.serviceWorker.getRegistration("/");
    return registration ? registration.pushManager.getSubscription() : null;
  }

  async function look() {
    if (!window.isSecureContext) return show("insecure");
    if (!("serviceWorker" in navigator) || !("PushManager" in window) || !("Notification" in window)) return show("unsupported");
    if (Notification.permission === "denied") return show("denied");
    show("asking");
    const have = await subscription();
    const was = root.querySelector("[data-mark] .thisone:not([hidden])");
    if (was) was.hidden = true;
    if (!have) return show(localStorage.getItem("telltale-push") ? "lapsed" : "off");
    if (!ofThisWatch(have) || Notification.permission !== "granted") return show("forgotten");
    const line = root.querySelector('[data-mark="' + (await mark(have.endpoint)) + '"]');
    if (!line) return show("forgotten");
    line.querySelector(".thisone").hidden = false;
    document.getElementById("push-person").textContent = line.dataset.person;
    show("on");
  }

  // send posts fields; the answer's words are thrown where it was refused.
  async function send(to, fields) {
    const answer = await fetch(to, {
      method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(fields),
    });
    const said = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error(said.error || spoken("answered", answer.status));
  }

  async function begin() {
    if ((await Notification.requestPermission()) !== "granted") {
      await look();
      if (Notification.permission !== "denied") say(spoken("forbidden"));
      return;
    }
    await navigator.serviceWorker.register("/worker.js", { scope: "/", updateViaCache: "none" });
    const registration = await navigator.serviceWorker.ready;
    const old = await registration.pushManager.getSubscription();
    if (old && !ofThisWatch(old)) await old.unsubscribe();
    let grant;
    try {
      grant = await registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(root.dataset.push) });
    } catch (e) {
      throw new Error(spoken("noservice", e.message));
    }
    try {
      await send("/push/subscribe", {
        endpoint: grant.endpoint, p256dh: text(grant.getKey("p256dh")), auth: text(grant.getKey("auth")),
        person: form.elements.person.value, label: form.elements.label.value,
      });
    } catch (e) {
      if (!old) await grant.unsubscribe();
      throw e;
    }
    localStorage.setItem("telltale-push", "on");
    location.assign("/device?said=device-on");
  }

  async function end() {
    const have = await subscription();
    localStorage.removeItem("telltale-push");
    if (have) {
      await send("/push/remove", { endpoint: have.endpoint });
      await have.unsubscribe();
    }
    location.assign("/device?said=device-off");
  }

  async function test() {
    const have = await subscription();
    await send("/push/test", { endpoint: have ? have.endpoint : "" });
    location.assign("/device?said=device-test");
  }

  // doing runs one act at a time and says what went wrong.
  async function doing(act, button) {
    say("");
    button.disabled = true;
    try {
      await act();
    } catch (e) {
      say(e instanceof TypeError ? spoken("unchanged") : e.message);
    }
    button.disabled = false;
  }

  if (form) {
    const label = form.elements.label;
    if (!label.value) label.value = matchMedia("(pointer: coarse)").matches ? words.phone : words.computer;
    form.addEventListener("submit", (e) => { e.preventDefault(); doing(begin, form.querySelector("button")); });
  }
  document.getElementById("push-remove").addEventListener("click", (e) => doing(end, e.currentTarget));
  document.getElementById("push-test").addEventListener("click", (e) => doing(test, e.currentTarget));
  look().catch((e) => { show("unsupported"); say(spoken("browser", e.message)); });
})();
