package page

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"

	"github.com/chromedp/chromedp"

	"telltale/gateway/page/scenes"
)

// A further house and a further place are offered, made by their names, shown before they
// are written, and gone on with; that nothing watches them yet is said.
func TestANewHouseByAForm(t *testing.T) {
	st, c := changing(t, Options{First: newFakeFirst()})
	_, text := st.get("/change")
	wantAll(t, reading(text), "A further house", "A further place in the house")
	wantAll(t, text, `/change/form?at=house%2f%2b"`)
	_, text = st.get("/change/form?at=house/%2B")
	wantAll(t, reading(text), "What it is called (needed)", "What it looks like, for the drawing", "What most leave as it is", "Place 1")
	wantNone(t, text, `id="name"`, `class="drawing`)
	v := []string{"at", "house/+", "called", "Cold frame", "place.+place0", "Lid", "form.roof", "lean-to", "form.width", "1.2", "form.eaves", "0.3", "form.ridge", "0.5"}
	a, text := st.post("/change/form", v...)
	if a.StatusCode != http.StatusOK {
		t.Errorf("status %d", a.StatusCode)
	}
	wantAll(t, reading(text), "What will be written", "[house.cold-frame]", `name = "Cold frame"`, "[house.cold-frame.place.lid]", `roof = "lean-to"`, "Seen along the house: 1.2 m wide, 0.5 m high.",
		"The file as it is now is kept beside it under its name with a ~.", `has no probe, so nothing watches it`)
	if a, text = st.post("/change/form", "at", "house/+", "called", "Long House", "place.+place0", "Lid"); a.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("a second house of one name: status %d", a.StatusCode)
	}
	wantAll(t, text, `id="called-wrong">There is one called long-house already.</span>`)
	wantNone(t, text, `id="write"`)
	a, text = st.post("/change/write", append(v, "mark", c.open().Mark(), "name", "Ada")...)
	if a.StatusCode != http.StatusOK || len(c.written) != 1 {
		t.Errorf("status %d, written %q", a.StatusCode, c.written)
	}
	wantAll(t, reading(text), "It is written", "No probe hangs there yet, so nothing watches it: Add a probe", "Go on with")
}

func TestBrowserMakesAHouse(t *testing.T) {
	t.Parallel()
	f := newFake()
	f.change(allWell)
	c := newFakeChanges(t)
	st := start(t, Options{Watch: f, Changes: c, First: newFakeFirst(), Forms: scenes.Forms()})
	made := 0
	for _, width := range []int64{390, 1280} {
		b := openTab(t, width, 900)
		for _, scheme := range schemes(width) {
			made++
			b.scheme(scheme)
			b.waiting(st.base, "/change")
			b.do(chromedp.Click(chromedp.CSS(`a[href="/change/form?at=house%2f%2b"]`)), chromedp.WaitVisible(chromedp.ID("called")))
			b.truth("nothing is drawn of a house without a shape", `!document.querySelector(".drawing")`)
			b.do(chromedp.SendKeys(chromedp.ID("called"), "Cold frame"), chromedp.SendKeys(chromedp.CSS(`[id="place.+place0"]`), "Lid"), chromedp.SetValue(chromedp.CSS(`[id="form.roof"]`), "ridge"),
				chromedp.SendKeys(chromedp.CSS(`[id="form.width"]`), "1.6"), chromedp.SendKeys(chromedp.CSS(`[id="form.eaves"]`), "0.4"), chromedp.SendKeys(chromedp.CSS(`[id="form.ridge"]`), "0.9"))
			b.truth("it is drawn before it is sent", `document.querySelector("#drawn figcaption")?.textContent.includes("1.6\u00a0m wide")`)
			b.none("a new house", ill)
			b.shot(fmt.Sprintf("new-house-%d-%s", width, scheme))
			b.do(chromedp.Click(chromedp.ID("show")), chromedp.WaitVisible(chromedp.ID("write")))
			b.none("what will be written of it", ill)
			b.shot(fmt.Sprintf("new-house-shown-%d-%s", width, scheme))
			b.do(chromedp.Click(chromedp.ID("write")), chromedp.WaitVisible(chromedp.ID("bare")))
			b.shot(fmt.Sprintf("new-house-written-%d-%s", width, scheme))
			b.waiting(st.base, "/change/form?at="+url.QueryEscape("house/long-house/place/+"))
			b.shot(fmt.Sprintf("new-place-%d-%s", width, scheme))
			b.none("a new place", ill)
		}
		b.noComplaints()
	}
	if len(c.written) != made {
		t.Errorf("%d were made, written was %q", made, c.written)
	}
}
