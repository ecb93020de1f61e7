// Takes alarms while the page is closed. It keeps nothing of what the watch
// shows: a value that was true once must not be read as one of now. The watch puts
// what it says, as words, before it.

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));

const icon = "/static/icon-192.png";
const acknowledge = { action: "acknowledge", title: words.acknowledge };
const open = { action: "open", title: words.open };

// here makes sure that a path stays on this site.
function here(path) {
  const to = new URL(typeof path === "string" ? path : "/", self.location.origin);
  return to.origin === self.location.origin ? to.pathname + to.search : "/";
}

function read(data) {
  try {
    const m = data.json();
    if (m && typeof m.title === "string" && typeof m.body === "string") return m;
  } catch (e) { /* said below */ }
  return { title: words.news, body: words.unread, tag: "unread", page: "/", priority: "high" };
}

// tell shows one message. The same message again takes the place of the first
// without a sound; newer news of the same alarm makes itself heard.
async function tell(m) {
  const shown = await self.registration.getNotifications({ tag: m.tag });
  const again = shown.some((n) => n.data && n.data.id === m.id);
  await self.registration.showNotification(m.title, {
    body: m.body, tag: m.tag, renotify: !again, icon, badge: icon, lang: words.lang,
    timestamp: Date.parse(m.at) || Date.now(),
    requireInteraction: m.priority === "high" && !m.over && !m.test,
    actions: m.tap ? [acknowledge, open] : [open],
    data: m,
  });
}

// inTurn does one thing after the other: to ask the browser what it shows while
// it is about to show something takes that out of what it keeps.
let last = Promise.resolve();
function inTurn(job) {
  last = last.then(job, job);
  return last;
}

self.addEventListener("push", (e) => e.waitUntil(inTurn(() => tell(read(e.data)))));

self.addEventListener("notificationclick", (e) => {
  const m = e.notification.data || {};
  e.notification.close();
  e.waitUntil(e.action === "acknowledge" && m.tap ? take(m) : show(here(m.page)));
});

// take acknowledges and says what came of it.
async function take(m) {
  let title = words.not, body = words.unreached, tap = m.tap;
  try {
    const answer = await fetch("/tap", {
      method: "POST", cache: "no-store", redirect: "error", headers: { Accept: "application/json" }, body: new URLSearchParams({ t: m.tap }),
    });
    const said = await answer.json();
    if (answer.ok) title = words.done;
    body = said.said || said.error || body;
    if (answer.status < 500) tap = ""; // the same again would get the same answer
  } catch (err) { /* not reached, as said above */ }
  await inTurn(() => self.registration.showNotification(title, {
    body: body + "\n" + m.title, tag: m.tag, icon, badge: icon, lang: words.lang, requireInteraction: title !== words.done,
    actions: tap ? [{ action: "acknowledge", title: words.again }, open] : [open],
    data: { ...m, id: "", tap },
  }));
}

// show brings a tab of the page to the front, or opens one.
async function show(path) {
  const tabs = await self.clients.matchAll({ type: "window", includeUncontrolled: true });
  const at = tabs.find((t) => here(t.url) === path) || tabs[0];
  if (!at) return self.clients.openWindow(path);
  try {
    await at.focus();
    if (here(at.url) !== path) await at.navigate(path);
  } catch (e) { // a tab that another worker has
    await self.clients.openWindow(path);
  }
}

const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=/g, "");

// A push service may give this browser another address.
self.addEventListener("pushsubscriptionchange", (e) => e.waitUntil(renew(e)));

async function renew(e) {
  try {
    const old = e.oldSubscription;
    const grant = e.newSubscription || await self.registration.pushManager.subscribe(
      { userVisibleOnly: true, applicationServerKey: old.options.applicationServerKey });
    const answer = await fetch("/push/renew", {
      method: "POST", cache: "no-store", headers: { Accept: "application/json" },
      body: new URLSearchParams({ old: old.endpoint, endpoint: grant.endpoint, p256dh: text(grant.getKey("p256dh")), auth: text(grant.getKey("auth")) }),
    });
    if (answer.ok) return;
  } catch (err) { /* said below */ }
  await inTurn(() => self.registration.showNotification(words.lapsed, {
    body: words.moved,
    tag: "renew", icon, badge: icon, lang: words.lang, requireInteraction: true, actions: [open], data: { page: "/device" },
  }));
}

// Where the watch cannot be reached the page says that it knows nothing.
const away = `<!doctype html><html lang="${words.lang}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>${words.away}</title></head><body><main>
<h1>${words.away}</h1>
<p>${words.unknown}</p>
<p>${words.look}</p>
<p><a href="/">${words.again}</a></p></main></body></html>`;

self.addEventListener("fetch", (e) => {
  if (e.request.mode !== "navigate") return;
  e.respondWith(fetch(e.request).catch(() => new Response(away, {
    status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": "default-src 'none'; base-uri 'none'; form-action 'none'" },
  })));
});
