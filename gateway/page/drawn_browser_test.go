package page

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/gateway/page/scenes"
)

const formOfHouse = "house/long-house/form"

// The form of a house shows it as it stands; what is typed is drawn without being
// written, with a script or when it is sent; what cannot be drawn leaves what was.
func TestAFormDrawsItsHouse(t *testing.T) {
	f := newFake()
	f.change(allWell)
	c := newFakeChanges(t)
	st := start(t, Options{Watch: f, Changes: c, Forms: scenes.Forms()})
	before := c.open().Text()
	_, text := st.get("/change/form?at=" + formOfHouse)
	wantAll(t, reading(text), "Seen along the house: 3.5 m wide, 2.8 m high, 6.0 m long.")
	wantAll(t, text, `data-draws`, `<tspan class="fig">31.3</tspan>`)
	typed := []string{"at", formOfHouse, "roof", "ridge", "width", "4,2", "length", "", "eaves", "2", "ridge", "3.1"}
	for path, status := range map[string]int{"/change/drawing": http.StatusOK, "/change/form": http.StatusOK} {
		a, text := st.post(path, typed...)
		if a.StatusCode != status {
			t.Errorf("%s: status %d", path, a.StatusCode)
		}
		wantAll(t, reading(text), "Seen along the house: 4.2 m wide, 3.1 m high.")
	}
	for _, bad := range []string{"wide", "0", "900", "-3", ""} {
		a, text := st.post("/change/drawing", "at", formOfHouse, "roof", "ridge", "width", bad, "eaves", "2", "ridge", "3.1")
		if a.StatusCode != http.StatusNoContent || text != "" {
			t.Errorf("width %q: status %d, %q", bad, a.StatusCode, text)
		}
	}
	if a, _ := st.post("/change/drawing", "at", "house/nowhere/form"); a.StatusCode != http.StatusNoContent {
		t.Errorf("the form of no house: status %d", a.StatusCode)
	}
	_, text = st.get("/change/form?at=" + benchLimits)
	wantNone(t, text, "data-draws", `class="drawing`)
	// What hangs elsewhere is drawn there.
	at := func(across string) string {
		_, text := st.post("/change/drawing", "at", "house/long-house/place/bench", "at.across", across, "at.height", "1.05")
		_, dot, _ := strings.Cut(text, `id="drawn_long-house_bench_readings"`)
		_, dot, _ = strings.Cut(dot, "<circle")
		return dot[:strings.Index(dot, ">")]
	}
	if left, right := at("0.4"), at("2.9"); left == right || left == "" {
		t.Errorf("the bench is drawn at %q and %q", left, right)
	}
	if len(c.written) > 0 || c.open().Text() != before {
		t.Errorf("drawing wrote %q", c.written)
	}
}

func TestBrowserDrawsAHouseAsOneTypes(t *testing.T) {
	t.Parallel()
	f := newFake()
	f.change(allWell)
	st := start(t, Options{Watch: f, Changes: newFakeChanges(t), Forms: scenes.Forms()})
	for _, width := range []int64{390, 1280} {
		b := openTab(t, width, 900)
		for _, scheme := range schemes(width) {
			b.scheme(scheme)
			b.waiting(st.base, "/change/form?at="+formOfHouse)
			const caption, glass = `document.querySelector("#drawn figcaption").textContent`, `document.querySelector("#drawn .glass").getAttribute("d")`
			b.truth("it is drawn as it stands", caption+`.includes("3.5\u00a0m wide") && (window.was = `+glass+`)`)
			b.truth("it is emptied", `(document.getElementById("width").value = "", true)`)
			b.do(chromedp.SendKeys(chromedp.ID("width"), "5.5"))
			b.truth("it is drawn anew", caption+`.includes("5.5\u00a0m wide") && `+glass+` !== window.was`)
			b.truth("whoever types stays there", `document.activeElement.id === "width"`)
			b.do(chromedp.SendKeys(chromedp.ID("width"), "x"))
			b.truth("what cannot be drawn is said", `!document.getElementById("undrawn").hidden && `+caption+`.includes("5.5\u00a0m wide")`)
			b.shot(fmt.Sprintf("drawn-bad-%d-%s", width, scheme))
			b.truth("they are emptied", `(document.getElementById("width").value = document.getElementById("high-wall").value = "", true)`)
			b.do(chromedp.SendKeys(chromedp.ID("width"), "4"), chromedp.SendKeys(chromedp.ID("high-wall"), "right"))
			b.truth("the wall stands on the right", `document.getElementById("undrawn").hidden && `+caption+`.includes("4.0\u00a0m wide") && (() => {
				const wall = document.querySelector("#drawn .wall").getBoundingClientRect(), glass = document.querySelector("#drawn .glass").getBoundingClientRect();
				return wall.left > glass.left + glass.width / 2;
			})()`)
			b.none("the form with its drawing", ill)
			b.shot(fmt.Sprintf("drawn-%d-%s", width, scheme))
		}
		b.noComplaints()
	}
}
