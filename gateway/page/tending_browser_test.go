package page

import (
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"telltale/alarms"
)

// A person calibrates a probe with the keyboard alone, reads what was done and
// takes it back.
func TestBrowserCalibratesAProbe(t *testing.T) {
	t.Parallel()
	st, f, _ := plain(t)
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base+"/probes"), chromedp.Focus(chromedp.CSS(`a[href="/probes/bench-1"]`)), chromedp.KeyEvent(kb.Enter))
	b.truth("it is the page of the probe", `location.pathname === "/probes/bench-1" && document.querySelector("h1").innerText === "Probe bench 1"`)
	b.do(chromedp.Focus(chromedp.ID("temperature-reference")), chromedp.KeyEvent(kb.ArrowDown))
	b.truth("ice is chosen", `document.getElementById("temperature-ice").checked`)
	b.do(chromedp.KeyEvent(kb.Tab))
	b.truth("the button follows", `document.activeElement.id === "temperature-ask"`)
	b.do(chromedp.KeyEvent(kb.Enter))
	b.truth("it is worked out", `document.querySelector(".proposal").innerText.includes("would be taken off what it sends")`)
	b.shot("calibrate-360-light")
	b.do(chromedp.Focus(chromedp.ID("who")), chromedp.SendKeys(chromedp.ID("who"), "Ada"), chromedp.KeyEvent(kb.Enter))
	b.truth("it says what was done", `document.getElementById("said").innerText.startsWith("The probe is calibrated.")`)
	got := f.done()
	if len(got) != 1 || got[0].Kind != alarms.Calibrate || got[0].Value != -0.62 || got[0].By != "Ada" {
		t.Fatalf("got %+v", got)
	}
	b.do(chromedp.Click(chromedp.ID("temperature-undo")))
	b.truth("it is taken back", `document.getElementById("said").innerText.startsWith("The calibration is taken back")`)
	if got := f.done(); len(got) != 2 || got[1].Value != 0 {
		t.Errorf("got %+v", got)
	}
	b.noComplaints()
}

// What is far off needs a look at the box first; the browser itself says so.
func TestBrowserAsksWhetherSomebodyIsSure(t *testing.T) {
	t.Parallel()
	st, f, _ := plain(t)
	b := openTab(t, 768, 900)
	b.do(chromedp.Navigate(st.base + "/probes/bench-1?quantity=temperature&against=reference&value=9"))
	b.truth("it warns", `document.querySelector(".proposal .warning").innerText.includes("a sound probe is not off by 8.38")`)
	b.do(chromedp.Click(chromedp.ID("agree")))
	b.truth("the form waits for the box", `document.querySelector("#sure:invalid") !== null`)
	if len(f.done()) != 0 {
		t.Fatalf("got %+v", f.done())
	}
	b.shot("calibrate-sure-768-light")
	b.do(chromedp.Click(chromedp.ID("sure")), chromedp.Click(chromedp.ID("agree")))
	b.truth("it is done", `document.getElementById("said").innerText.startsWith("The probe is calibrated.")`)
	b.noComplaints()
}

func TestBrowserSearchesTheLog(t *testing.T) {
	t.Parallel()
	st, _, _ := plain(t)
	b := openTab(t, 768, 900)
	b.do(chromedp.Navigate(st.base+"/log"), chromedp.SendKeys(chromedp.ID("words"), "exhaust fan"), chromedp.KeyEvent(kb.Enter))
	b.truth("one line is left", `document.querySelectorAll(".log li").length === 1 && document.querySelector(".log li").innerText.includes("The exhaust fan was called")`)
	b.truth("the words stay", `document.getElementById("words").value === "exhaust fan"`)
	b.do(chromedp.Click(chromedp.CSS(`nav.spans a[href^="/log?of=alarms"]`)))
	b.truth("the words are kept with another kind", `location.search.includes("words=exhaust+fan") && document.querySelectorAll(".log li").length === 0`)
	b.do(chromedp.Click(chromedp.CSS(`.filter a`)))
	b.truth("everything again", `location.search === "" && document.querySelectorAll(".log li").length === 50`)
	b.do(chromedp.Click(chromedp.CSS(`.log .more a[href^="/told"]`)))
	b.truth("who was told", `document.querySelectorAll(".told li").length === 3`)
	b.do(chromedp.Click(chromedp.CSS(`.told .more a`)))
	b.truth("the alarm", `location.pathname === "/alarm" && document.querySelectorAll(".told li").length === 5`)
	b.noComplaints()
}

func TestBrowserShelvesWithAReason(t *testing.T) {
	t.Parallel()
	st, f, _ := plain(t)
	b := openTab(t, 360, 780)
	b.do(chromedp.Navigate(st.base+"/alarm?id="+url.QueryEscape(ridge)), chromedp.Click(chromedp.CSS(`form[action="/alarms/shelve"] button`)))
	b.truth("the form waits for the reason", `document.querySelector("#why:invalid") !== null`)
	if len(f.done()) != 0 {
		t.Fatalf("got %+v", f.done())
	}
	b.do(chromedp.SendKeys(chromedp.ID("why"), "shading goes up\r"))
	b.truth("it is shelved, and why", `document.querySelector(".state").innerText.includes("shading goes up")`)
	b.noComplaints()
}

// refusedPage says why nothing was worked out.
const refusedPage = "/probes/bench-1?quantity=humidity&against=reference&value=much"
