package page

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"
)

// deviceStates are the ways in which a device can be found, each with what
// makes it so and the sentence that says it.
var deviceStates = []struct {
	name    string
	setting browser.PermissionSetting
	before  string
	says    string
	offers  string // control that is offered; "": none
}{
	{"off", browser.PermissionSettingPrompt, "", "This device takes no alarms.", "push-on"},
	{"on", browser.PermissionSettingGranted, `sessionStorage.setItem("granted", "yes")`, "This device takes alarms for Ada.", "push-off"},
	{"lapsed", browser.PermissionSettingGranted, `localStorage.setItem("telltale-push", "on")`, "its push service has forgotten it", "push-on"},
	{"forgotten", browser.PermissionSettingPrompt, `sessionStorage.setItem("granted", "yes")`, "the watch does not know it now", "push-on"},
	{"denied", browser.PermissionSettingDenied, "", "its browser was told to show no notifications", ""},
	{"unsupported", browser.PermissionSettingPrompt, `delete window.PushManager`, "This browser cannot take alarms while the page is closed.", ""},
}

// sceneDevices is scenePush with the browser of the tests as its first device.
func sceneDevices() *fakePush {
	f := scenePush(noon)
	f.devices[0].Mark = PushMark("https://push.example.org/s3cr3t")
	return f
}

// inState opens a tab of a browser that has the worker from before.
func inState(t *testing.T, st *started, before string, setting browser.PermissionSetting) *tab {
	b := openBrowser(t, 360, 780)
	b.before(stubPush)
	b.before(before)
	b.permit(st.base, setting)
	b.do(chromedp.Navigate(st.base + "/device"))
	b.says(`navigator.serviceWorker.register("/worker.js", { scope: "/" }).then(() => "registered")`)
	return b
}

func TestBrowserSaysWhetherThisDeviceIsTold(t *testing.T) {
	t.Parallel()
	st, _ := ticking(t, Options{Push: sceneDevices()})
	for _, one := range sampled(deviceStates) {
		b := inState(t, st, one.before, one.setting)
		for _, width := range []int64{360, 1280} {
			b.do(chromedp.EmulateViewport(width, 800))
			for _, scheme := range schemes(width) {
				b.scheme(scheme)
				b.do(chromedp.Navigate(st.base + "/device"))
				b.truth(one.name+" is said", `document.getElementById("push-state").innerText.includes("`+one.says+`")
					&& document.querySelectorAll("#push-state > :not([hidden])").length === 1`)
				b.truth("what can be done is offered", `["push-on", "push-off"].filter((id) => !document.getElementById(id).hidden).join() === "`+one.offers+`"`)
				b.fits(fmt.Sprintf("device-%s-%d-%s", one.name, width, scheme))
			}
		}
		b.noComplaints()
	}
}

// Over a plain name the browser gives the page nothing to be told by.
func TestBrowserSaysThatHTTPSIsMissing(t *testing.T) {
	t.Parallel()
	st, _ := ticking(t, Options{Password: password, Hosts: []string{"garden.example.org"}, Push: sceneDevices()})
	b := openBrowser(t, 360, 780)
	base := strings.Replace(st.base, "127.0.0.1", "garden.example.org", 1)
	b.do(chromedp.Navigate(base), chromedp.WaitVisible(chromedp.ID("password")), chromedp.SendKeys(chromedp.ID("password"), password+"\r"))
	b.truth("it is live after signing in", isLive)
	for _, scheme := range []string{"light", "dark"} {
		b.scheme(scheme)
		b.do(chromedp.Navigate(base + "/device"))
		b.truth("it is said", `document.querySelector("[data-is=insecure]:not([hidden])").innerText.includes("because the page was opened without HTTPS")
			&& document.getElementById("push-on").hidden`)
		b.fits("device-insecure-360-" + scheme)
	}
}

// What the watch refuses, and a service that is not reached, is said, and the
// device can be tested and taken off again.
func TestBrowserTakesTheDeviceOff(t *testing.T) {
	t.Parallel()
	push := newFakePush()
	push.refusal = "This person has 20 devices already."
	st, _ := ticking(t, Options{Push: push})
	b := openBrowser(t, 360, 780)
	b.before(stubPush)
	b.permit(st.base, browser.PermissionSettingGranted)
	b.do(chromedp.Navigate(st.base + "/device"))
	on := func() {
		b.truth("it is off", `!document.getElementById("push-on").hidden`)
		b.do(chromedp.SetValue(chromedp.ID("push-whose"), "ben"), chromedp.Focus(chromedp.CSS("#push-on button")), chromedp.KeyEvent("\r"))
	}
	on()
	b.truth("a refusal is said", `document.getElementById("wrong").innerText === "This person has 20 devices already."`)
	b.shot("device-refused-360")
	push.mu.Lock()
	push.refusal = ""
	push.mu.Unlock()
	b.do(chromedp.Navigate(st.base + "/device?again"))
	b.truth("nothing of it is left", `document.querySelector("[data-is=off]:not([hidden])")`)
	on()
	b.truth("it is on", `location.search === "?said=device-on" && !document.getElementById("push-off").hidden`)
	b.do(chromedp.Click(chromedp.ID("push-test")))
	b.truth("the test is said", `document.getElementById("said").innerText.startsWith("The push service took the test message.")`)
	b.truth("it is still on", `!document.getElementById("push-off").hidden`)
	b.do(chromedp.Click(chromedp.ID("push-remove")))
	b.truth("it is off again", `location.search === "?said=device-off" && document.querySelector("[data-is=off]:not([hidden])")`)
	if len(push.registered()) != 0 || len(push.tested) != 1 {
		t.Errorf("left are %+v, tested %v", push.registered(), push.tested)
	}
}

// TestAxeDevice judges the page about devices by axe-core, in every state.
func TestAxeDevice(t *testing.T) {
	source := axeSource(t)
	st, _ := ticking(t, Options{Push: sceneDevices()})
	for _, one := range deviceStates {
		b := inState(t, st, one.before, one.setting)
		for _, scheme := range []string{"light", "dark"} {
			b.scheme(scheme)
			b.do(chromedp.Navigate(st.base + "/device?said=device-on"))
			b.truth(one.name+" is said", `document.getElementById("push-state").innerText.includes("`+one.says+`")`)
			b.axe(source, "/device, "+one.name+", "+scheme)
		}
	}
}
