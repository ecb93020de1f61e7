package page

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/cdproto/target"
	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/gateway/page/door"
)

// stubPush stands for the push service of the browser's maker, which no test
// reaches: it answers subscribe as that would. All else is the browser's own.
const stubPush = `(() => {
	const raw = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0)).buffer;
	const grant = (key) => ({ endpoint: "https://push.example.org/s3cr3t", options: { applicationServerKey: key },
		getKey: (name) => raw(name === "auth" ? "` + grantAuth + `" : "` + pushKey + `"), unsubscribe: async () => { sessionStorage.removeItem("granted"); return true; } });
	PushManager.prototype.subscribe = async function (o) {
		if (!o.userVisibleOnly) throw new Error("userVisibleOnly is asked for");
		sessionStorage.setItem("granted", "yes");
		return grant(o.applicationServerKey);
	};
	PushManager.prototype.getSubscription = async function () { return sessionStorage.getItem("granted") ? grant(raw("` + pushKey + `")) : null; };
})()`

// permit answers for the person what the browser asks about notifications.
func (b *tab) permit(origin string, setting browser.PermissionSetting) {
	b.t.Helper()
	_, err := chromedp.CallBrowser(b.ctx, browser.SetPermission, browser.SetPermissionParams{
		Permission: &browser.PermissionDescriptor{Name: "notifications"}, Setting: setting, Origin: origin})
	if err != nil {
		b.t.Fatal(err)
	}
}

// before runs a script in every page before its own.
func (b *tab) before(script string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	if err != nil {
		b.t.Fatal(err)
	}
}

// beside opens another tab of the same browser.
func (b *tab) beside() *tab {
	b.t.Helper()
	ctx, stop := chromedp.NewContext(b.ctx)
	b.t.Cleanup(stop)
	other := &tab{t: b.t, ctx: ctx}
	if err := chromedp.Listen(ctx, other.listen); err != nil {
		b.t.Fatal(err)
	}
	return other
}

// deliverer lets a tab deliver messages to the service workers of its browser, as
// a push service does. It returns what hands over one message.
func (b *tab) deliverer(origin string) func(message string) {
	b.t.Helper()
	found := make(chan serviceworker.RegistrationID, 16)
	err := chromedp.Listen(b.ctx, func(ev any) {
		if e, ok := ev.(*serviceworker.EventWorkerRegistrationUpdated); ok {
			for _, r := range e.Registrations {
				if r.ScopeURL == origin+"/" && !r.IsDeleted && len(found) < cap(found) {
					found <- r.RegistrationID
				}
			}
		}
	})
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := chromedp.Call(b.ctx, serviceworker.Enable, cdp.Empty{}); err != nil {
		b.t.Fatal(err)
	}
	var id serviceworker.RegistrationID
	select {
	case id = <-found:
	case <-time.After(patience):
		b.t.Fatal("the browser knows no worker of the page")
	}
	return func(message string) {
		b.t.Helper()
		_, err := chromedp.Call(b.ctx, serviceworker.DeliverPushMessage, serviceworker.DeliverPushMessageParams{Origin: origin, RegistrationID: id, Data: message})
		if err != nil {
			b.t.Fatal(err)
		}
	}
}

// workerTab starts the service worker of the page, as a message would, and
// attaches to it. To let go of it stops it, so that is done at the end alone.
func (b *tab) workerTab(origin string) *tab {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, serviceworker.StartWorker, serviceworker.StartWorkerParams{ScopeURL: origin + "/"}); err != nil {
		b.t.Fatal(err)
	}
	var id target.ID
	eventually(b.t, "a service worker runs", func() bool {
		all, err := chromedp.Targets(b.ctx)
		if err != nil {
			b.t.Fatal(err)
		}
		for _, one := range all {
			if one.Type == "service_worker" {
				id = one.TargetID
			}
		}
		return id != ""
	})
	ctx, stop := chromedp.NewContext(b.ctx, chromedp.WithTargetID(id))
	b.t.Cleanup(stop)
	w := &tab{t: b.t, ctx: ctx}
	if err := chromedp.Listen(ctx, w.listen); err != nil {
		b.t.Fatal(err)
	}
	w.says(countShown)
	return w
}

// countShown counts what the worker has shown. The browser is asked only then:
// to ask while a notification is on its way takes it out of what it keeps.
const countShown = `(() => {
	const registration = self.registration, show = registration.showNotification;
	self.shown = 0;
	registration.showNotification = async (...all) => { await show.apply(registration, all); self.shown++; };
	return "counting";
})()`

// says evaluates an expression and waits for what it promises.
func (b *tab) says(expression string) string {
	b.t.Helper()
	bounded, stop := context.WithTimeout(b.ctx, patience)
	defer stop()
	said, err := chromedp.Run(bounded, chromedp.Evaluate[string](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatal(err)
	}
	return said
}

// notification is one as the browser shows it.
type notification struct {
	Title, Body, Tag   string
	RequireInteraction bool
	Actions            []string
	Page               string
}

const shownNow = `self.registration.getNotifications().then((all) => JSON.stringify(all.map((n) => ({
	Title: n.title, Body: n.body, Tag: n.tag, RequireInteraction: n.requireInteraction, Actions: n.actions.map((a) => a.title), Page: n.data.page }))))`

// shows waits until the worker has shown one notification more, and the browser
// shows one, which fits.
func (b *tab) shows(what string, fits func(notification) bool) notification {
	b.t.Helper()
	b.shown++
	b.truth(what, fmt.Sprintf("self.shown >= %d", b.shown))
	var all []notification
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if err := json.Unmarshal([]byte(b.says(shownNow)), &all); err != nil {
			b.t.Fatal(err)
		}
		if len(all) == 1 && fits(all[0]) {
			return all[0]
		}
	}
	b.t.Fatalf("not shown: %s; shown are %+v", what, all)
	return notification{}
}

// clear takes all notifications away.
func (b *tab) clear() {
	b.t.Helper()
	b.says(`self.registration.getNotifications().then((all) => { all.forEach((n) => n.close()); return ""; })`)
}

// clickOn ackLinks on the one notification, or on a button of it.
func (b *tab) clickOn(action string) {
	b.t.Helper()
	b.says(fmt.Sprintf(`self.registration.getNotifications().then(([notification]) => {
		self.dispatchEvent(new NotificationEvent("notificationclick", { notification, action: %q })); return "tapped"; })`, action))
}

// aMessage is what reach sends, with a tap of this watch in it.
func aMessage(t *testing.T, tap string) string {
	t.Helper()
	text, err := os.ReadFile("../../testdata/push/message.json")
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	m["alarm"], m["page"], m["tap"] = ridge, "/alarm?id="+url.QueryEscape(ridge), tap
	out, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}

func token(ackLinks *door.AckLinks, transition string) string {
	_, tap, _ := strings.Cut(ackLinks.Link("", ridge, transition, "Ada", noon.Add(time.Hour)), "?t=")
	return tap
}

// A tab registers the device and is closed. Then an alarm comes, is shown, and
// is acknowledged from the notification, with no page open.
func TestBrowserIsToldWithThePageClosed(t *testing.T) {
	t.Parallel()
	ackLinks, push := door.NewAckLinks([]byte("the key of these tests")), newFakePush()
	st, f := ticking(t, Options{Push: push, AckLinks: ackLinks})
	b := openBrowser(t, 360, 780)
	b.permit(st.base, browser.PermissionSettingPrompt)
	b.before(stubPush)
	b.do(chromedp.Navigate(st.base + "/device"))
	b.truth("it is off", `document.querySelector("#push-state [data-is=off]:not([hidden])")`)
	b.permit(st.base, browser.PermissionSettingGranted)
	b.do(chromedp.SetValue(chromedp.ID("push-whose"), "ada"), chromedp.SetValue(chromedp.ID("push-label"), "phone"),
		chromedp.Click(chromedp.CSS("#push-on button")))
	b.truth("it is on", `location.search === "?said=device-on" && document.getElementById("push-state").innerText === "This device takes alarms for Ada."
		&& document.querySelector("[data-mark] .thisone:not([hidden])")`)
	if got := push.registered(); len(got) != 1 || got[0].Label != "phone" || got[0].Person != "ada" || len(push.grants[1].Key) != 65 {
		t.Fatalf("got %+v", got)
	}
	b.noComplaints()

	blank := b.beside()
	deliver := blank.deliverer(st.base)
	closeTab(t, b, blank)
	worker := blank.workerTab(st.base)
	deliver(aMessage(t, token(ackLinks, ridge+"#3")))
	n := worker.shows("the alarm", func(n notification) bool {
		return n.Title == "High: Long House, bench: too hot, 33.4 °C at 12:00"
	})
	if n.Body != "Long House, bench: 33.4 °C, above the limit of 32.0 °C since 11:59.\nTold at 12:00 on Thursday 9 July." ||
		!n.RequireInteraction || fmt.Sprint(n.Actions) != "[Acknowledge Open]" {
		t.Errorf("got %+v", n)
	}
	deliver(aMessage(t, token(ackLinks, ridge+"#3"))) // once more: it takes the place of the first
	worker.shows("one alone", func(n notification) bool { return true })
	worker.clickOn("acknowledge")
	n = worker.shows("what came of it", func(n notification) bool { return n.Title == "Acknowledged" })
	if !strings.HasPrefix(n.Body, "Acknowledged by Ada.") || fmt.Sprint(n.Actions) != "[Open]" || n.RequireInteraction {
		t.Errorf("got %+v", n)
	}
	if got := f.done(); len(got) != 1 || got[0].Kind != alarms.Acknowledge || got[0].Alarm != ridge || !strings.HasPrefix(got[0].By, "Ada") {
		t.Errorf("the watch got %+v", got)
	}

	deliver(aMessage(t, token(ackLinks, ridge+"#2"))) // of what is no longer so
	worker.shows("the alarm again", func(n notification) bool { return strings.HasPrefix(n.Title, "High:") })
	f.change(func(p *alarms.Picture) { p.Alarms[0].State = alarms.Unacknowledged })
	worker.clickOn("acknowledge")
	n = worker.shows("a refusal", func(n notification) bool { return n.Title == "Not acknowledged" })
	if !strings.Contains(n.Body, "It changed after this message was sent, so nothing was done.") || fmt.Sprint(n.Actions) != "[Open]" {
		t.Errorf("got %+v", n)
	}

	worker.clear()
	deliver("no JSON")
	worker.shows("what cannot be read is said all the same", func(n notification) bool { return n.Tag == "unread" })
	worker.says(`renew({ oldSubscription: { endpoint: "https://push.example.org/s3cr3t" },
		newSubscription: { endpoint: "https://push.example.org/moved", getKey: () => new Uint8Array(65).buffer } }).then(() => "renewed")`)
	if got := push.registered(); len(got) != 1 || got[0].Mark != PushMark("https://push.example.org/moved") || got[0].Label != "phone" {
		t.Errorf("after the push service changed the address: %+v", got)
	}
	st.stop()
	<-st.ended
	worker.clear()
	worker.says(`renew({ oldSubscription: null }).then(() => "not renewed")`)
	n = worker.shows("a change that cannot be followed", func(n notification) bool { return n.Title == "This device takes no alarms any more" })
	if n.Page != "/device" || !n.RequireInteraction {
		t.Errorf("got %+v", n)
	}
	worker.clear()
	deliver(aMessage(t, token(ackLinks, ridge+"#3")))
	worker.shows("the alarm of a watch that is away", func(n notification) bool { return strings.HasPrefix(n.Title, "High:") })
	worker.clickOn("acknowledge")
	n = worker.shows("that it was not reached", func(n notification) bool { return n.Title == "Not acknowledged" })
	if !strings.Contains(n.Body, "The watch could not be reached.") || fmt.Sprint(n.Actions) != "[Try again Open]" {
		t.Errorf("got %+v", n)
	}
	blank.do(chromedp.Navigate(st.base + "/"))
	blank.truth("a page of a watch that is away shows nothing old", `document.querySelector("h1").innerText === "The watch cannot be reached"
		&& document.body.innerText.includes("does not know how it is in the houses now")`)
	blank.shot("device-away-360")
}

// closeTab closes a tab, and only it.
func closeTab(t *testing.T, b, other *tab) {
	t.Helper()
	id := chromedp.FromContext(b.ctx).Target.TargetID
	if _, err := chromedp.CallBrowser(other.ctx, target.CloseTarget, target.CloseTargetParams{TargetID: id}); err != nil {
		t.Fatal(err)
	}
	eventually(t, "the tab is closed", func() bool {
		all, err := chromedp.Targets(other.ctx)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range all {
			if one.TargetID == id {
				return false
			}
		}
		return true
	})
}
