package page

import (
	"context"
	"net/url"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/door"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
)

// garden is a page with every part of Telltale at once, and what it shows.
type garden struct {
	*started
	f        *fakeWatch
	first    *fakeFirst
	own      *fakeAuthority
	ackLinks *door.AckLinks
	fellow   atomic.Value // what it says of the watch that it accompanies; nil: it accompanies none
}

// everything serves a page that has all parts, for people with accounts.
func everything(t *testing.T) *garden {
	t.Helper()
	f, tend := tended()
	g := &garden{f: f, first: newFakeFirst(), own: newFakeAuthority(), ackLinks: door.NewAckLinks([]byte("a key of these tests, not secret"))}
	beat(t, f)
	g.started = start(t, Options{Watch: f, Line: &fakeLine{away: []alarms.Leave{{Person: "Ada", StandIn: "Cy", Since: noon, Until: noon.Add(30 * time.Hour)}}}, Name: "Thimble Garth", Drill: sceneDrill(), Letters: &fakeLetters{}, Accounts: people(), Tending: tend, Forms: scenes.Forms(), Course: newFakeCourse(f),
		Reports: &fakeReports{f: f}, Downloads: &fakeDownloads{step: 10 * time.Minute}, Push: scenePush(noon), Modem: fakeModem{goodModem()},
		AckLinks: g.ackLinks, First: g.first, Authority: g.own, Changes: newFakeChanges(t), Accompanies: g.accompanies, Copies: func() (time.Time, string) { return noon.Add(-30 * time.Hour), "the disk is full" }})
	return g
}

func (g *garden) accompanies(say.Locale) string {
	said, _ := g.fellow.Load().(string)
	return said
}

// beat moves f's time and lets it judge every second until the test ends.
func beat(t *testing.T, f *fakeWatch) {
	begun := time.Now()
	beatBy(t, f, func() time.Time { return noon.Add(time.Since(begun)) })
}

// beatBy lets f judge every second by a clock until the test ends.
func beatBy(t *testing.T, f *fakeWatch, now func() time.Time) {
	f.now = now
	ctx, stop := context.WithCancel(context.Background())
	var beating sync.WaitGroup
	beating.Go(func() {
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				f.change(func(p *alarms.Picture) { p.At = f.now() })
			}
		}
	})
	t.Cleanup(func() { stop(); beating.Wait() })
}

// Pictures that a front page can show, beside the bad day of scene.
var (
	allWell   = func(p *alarms.Picture) { *p = scenes.Garden(noon) }
	onlyAside = func(p *alarms.Picture) { *p = scenes.Garden(noon); p.Alarms = scene(noon).Alarms[3:] }
	unheard   = func(p *alarms.Picture) { *p = alarms.Picture{At: noon, Sentence: "Nothing is watched yet."} }
	falling   = func(p *alarms.Picture) { // to the low limit; the ridge cannot say anything now
		*p = scenes.Garden(noon)
		bench, ridge := &p.Houses[0].Places[0], &p.Houses[0].Places[1]
		bench.Points[0].Value, bench.Outlook = 6.2, scenes.Falling(noon)
		ridge.Outlook = scenes.TooNew()
	}
	everyShape = func(p *alarms.Picture) {
		*p = scenes.Garden(noon)
		h, was := &p.Houses[0], scene(noon)
		p.Sentence, p.Alarms, h.Selectors = was.Sentence, was.Alarms, was.Houses[0].Selectors
		bench := h.Places[0].Points
		bench[0].Value, bench[0].Level, bench[0].Side = 37.4, alarms.Inner, alarms.HighSide
		bench[1].Live = false
		h.Places[1].Points[0].Value, h.Places[1].Points[0].Limits = 44.6, alarms.Limits{High: alarms.At(45)}
		h.Places[7].Points[0].Level, h.Places[7].Points[0].Side, h.Places[7].Points[0].Limits = alarms.Outer, alarms.LowSide, alarms.Limits{Low: alarms.At(26)}
		h.Drives[0].State, h.Drives[0].Does, h.Drives[0].Failing = alarms.DriveStanding, "stands still", true
	}
)

// waiting leads to an address and waits until its page can be judged.
func (b *tab) waiting(base, path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(base + path))
	ready := `document.readyState === "complete" && document.querySelector("h1")`
	if path == "/" {
		ready = isLive
	}
	b.truth(path+" is there", ready)
}

// tour leads a tab through every page in every state and calls look at each.
// It ends with a watch that was stopped.
func (b *tab) tour(g *garden, look func(name string)) {
	b.t.Helper()
	b.tourOutside(g, look)
	b.enter(g.base, "Ben", benPassword)
	for _, path := range []string{"/", "/probes/bench-1", "/alarm?id=" + url.QueryEscape(string(ridgeHigh)), "/device"} {
		b.waiting(g.base, path)
		look(path + " of who may look only")
	}
	b.do(chromedp.Click(chromedp.CSS(`form[action="/sign-out"] button`)), chromedp.WaitVisible(chromedp.ID("password")))
	b.enter(g.base, "Ada", password)
	for _, path := range tourPaths(g.server) {
		b.waiting(g.base, path)
		look(path)
	}
	b.tourForms(g, look)
	b.tourFronts(g, look)
}

// tourOutside is what is shown to who is not signed in.
func (b *tab) tourOutside(g *garden, look func(name string)) {
	b.t.Helper()
	link := func(until time.Time) string {
		return g.ackLinks.Link("", ridgeHigh, string(ridgeHigh)+"#3", "Ada", until)
	}
	shared := start(b.t, Options{Watch: newFake(), Untold: service.Untold{All: true, Rehearsed: true}, Line: &fakeLine{away: []alarms.Leave{
		{Person: "Ada", Until: noon.Add(time.Hour)}, {Person: "Ben", Until: noon.Add(30 * time.Hour)}, {Person: "Cy", Until: noon.Add(2 * time.Hour)}}}})
	b.waiting(shared.base, "/")
	look("/ without accounts")
	f := newFake()
	f.change(allWell)
	plain := start(b.t, Options{Watch: f, Course: newFakeCourse(f), Forms: scenes.Plain()})
	b.waiting(plain.base, "/")
	b.do(chromedp.Click(chromedp.CSS(".ownform summary")))
	look("/ plain")
	for _, one := range [][2]string{{"a link", link(noon.Add(time.Hour))}, {"an ended link", link(noon.Add(-time.Hour))}, {"no link", "/tap?t=x"},
		{"a letter", letterLink(g.ackLinks, "", "2", "Ada", noon.Add(time.Hour))}, {"an older letter", letterLink(g.ackLinks, "", "1", "Ada", noon.Add(time.Hour))}, {"/sign-in", "/sign-in"}} {
		b.waiting(g.base, one[1])
		look(one[0])
	}
	b.waiting(g.base, link(noon.Add(time.Hour)))
	b.do(chromedp.Click(chromedp.CSS("main.tap button")))
	b.truth("it is done", `document.querySelector("main [role=status]")`)
	look("a link tapped")
	b.waiting(g.base, "/sign-in")
	b.do(chromedp.SendKeys(chromedp.ID("account"), "Ada"), chromedp.SendKeys(chromedp.ID("password"), "wrong\r"))
	b.truth("the password is refused", `document.getElementById("wrong")`)
	look("/sign-in refused")
}

// tourPaths are the pages of the navigation, and those beside it.
func tourPaths(s *Server) []string {
	paths := []string{"/log?of=switching", "/log?q=bench&priority=high", "/told?person=Ada", "/no-such-page", "/account", "/probes/bench-1", "/probes/ridge-1", "/probes/switch-1", "/probes/bed-1",
		"/alarm?id=" + url.QueryEscape(string(ridgeHigh)), "/alarm?id=" + url.QueryEscape("long-house/outside/temperature/low"), "/alarm?id=x",
		"/first/topic?topic=thimble-garth/bench-1", "/first/topic?topic=other", "/first/done?probe=bench-1", "/first/done?probe=new",
		"/change", "/change/form?at=house/%2B", "/change/form?at=house/long-house/form", "/change/form?at=house/long-house/drive/%2B", "/change/form?at=house/long-house/drive/exhaust/evidence",
		"/report?of=week&on=2026-06-14", "/report?of=season", "/report?house=low-house&on=2026-06-20", "/report?of=month", "/report/year?house=low-house", "/help/outlook", "/download?house=low-house", "/wall", "/wall?house=low-house"}
	for _, e := range navEntries() {
		if e.shown == nil || e.shown(s) {
			paths = append(paths, e.address)
		}
	}
	for _, z := range []string{"hour", "6-hours", "day", "3-days", "week", "month", "year", "all"} {
		paths = append(paths, "/back?house=long-house&place=bench&place=ridge&zoom="+z)
	}
	return paths
}

// tourForms are the answers to what is filled in.
func (b *tab) tourForms(g *garden, look func(name string)) {
	b.t.Helper()
	setUp := func() {
		b.do(chromedp.SetValue(chromedp.ID("place"), "bench"), chromedp.Click(chromedp.CSS(".setup button.take")))
	}
	b.waiting(g.base, "/first/topic?topic=thimble-garth/bench-1")
	b.do(chromedp.SetValue(chromedp.ID("house"), "Long House"), chromedp.SetValue(chromedp.ID("latitude"), "95"), chromedp.Click(chromedp.ID("tell-mail")))
	setUp()
	b.truth("something is wrong", `document.querySelector("[role=alert]")`)
	look("/first/show refused")
	b.do(chromedp.SetValue(chromedp.ID("latitude"), "52"), chromedp.Click(chromedp.ID("tell-nobody")))
	setUp()
	b.truth("the lines are shown", `document.querySelector(".diff")`)
	look("/first/show")
	b.waiting(g.base, "/change/form?at="+benchLimits)
	b.do(chromedp.SetValue(chromedp.ID("delay"), "soon"), chromedp.Click(chromedp.ID("show")))
	b.truth("it is wrong", `document.querySelector(".wrong")`)
	look("/change/form refused")
	b.do(chromedp.SetValue(chromedp.ID("delay"), "2m"), chromedp.Click(chromedp.ID("show")))
	b.truth("the lines are shown", `document.querySelector(".diff")`)
	look("/change/form shown")
	b.waiting(g.base, "/change/form?at=channel/%2Bwebhook")
	look("/change/form of a channel")
	g.first.change(func(f *fakeFirst) { f.garden.Gives, f.garden.Without = true, true })
	b.waiting(g.base, "/first")
	look("/first gives accounts")
	b.do(chromedp.SetValue(chromedp.ID("name"), "bench 1"), chromedp.Click(chromedp.CSS("form[action='/first/account'] button")))
	b.truth("it says what to type", `document.querySelector("svg.qr")`)
	look("/first/account")
	g.first.change(func(f *fakeFirst) { f.garden.Gives, f.garden.Without = false, false })
	b.tourAuthority(g, look)
	b.waiting(g.base, "/probes/bench-1")
	b.do(chromedp.Click(chromedp.ID("temperature-ice")), chromedp.Click(chromedp.ID("temperature-ask")))
	b.truth("it is worked out", `document.querySelector(".proposal")`)
	look("/probes/bench-1 proposed")
	b.waiting(g.base, refusedPage)
	look("/probes/bench-1 refused")
	b.waiting(g.base, "/")
	b.do(chromedp.Click(chromedp.CSS(`form[action="/test-message"] button`)))
	b.truth("it is followed", `document.querySelector("#tested [role=status]")`)
	look("/test-message")
}

// tourAuthority is the page of the authority in each state.
func (b *tab) tourAuthority(g *garden, look func(name string)) {
	b.t.Helper()
	show := func(name string) {
		b.waiting(g.base, "/authority")
		b.truth("all is unfolded", `[...document.querySelectorAll("main details")].every((d) => d.open = true)`)
		look("/authority " + name)
	}
	show("to be made")
	g.own.made(b.t)
	show("made")
	g.own.set(func(s *AuthorityState) {
		s.InUse, s.Lacking = true, []string{"192.0.2.77", "garden-board-of-a-long-name.example.org"}
	})
	show("of other names")
	g.own.set(func(s *AuthorityState) {
		*s = AuthorityState{Wrong: tongue.Saying{Args: []any{"/var/lib/telltale/page-authority: ", tongue.Put("it is not whole: two certificates and a key belong into it")}}}
	})
	show("damaged")
	g.own.made(b.t)
	b.waiting(g.base, "/authority")
	b.do(chromedp.Click(chromedp.ID("serve")))
	b.truth("the watch starts anew", `document.getElementById("open")`)
	look("/authority/use")
	b.waiting(g.base, "/first")
	look("/first with an authority")
}

// tourCompanion is how a watch looks that accompanies another, with the longest that it says.
func (b *tab) tourCompanion(g *garden, look func(name string)) {
	b.t.Helper()
	g.fellow.Store("This is the companion of the watch at https://long-house.example.org:8470, which was last heard at 23:59 on Wednesday 31 December 2025. " +
		"The companion tells. The plan here is older than that of the first watch, which could not be taken: it does not answer at https://long-house.example.org:8470: " +
		"dial tcp 192.0.2.1:8470: connect: connection refused What waits here for the first watch: 12.")
	defer g.fellow.Store("")
	for _, path := range []string{"/", "/wall", "/log"} {
		b.do(chromedp.Navigate(g.base + path))
		b.truth(path+" says it before all else", `document.readyState === "complete" && document.querySelector("#fellow").checkVisibility() && document.querySelector("#fellow").getBoundingClientRect().top < innerHeight`)
		look(path + " of a companion")
	}
}

// tourFronts are all states of the front page.
func (b *tab) tourFronts(g *garden, look func(name string)) {
	b.t.Helper()
	for _, one := range []struct {
		name string
		set  func(*alarms.Picture)
	}{{"all well", allWell}, {"falling", falling}, {"put aside", onlyAside}, {"nothing watched", unheard}, {"every shape", everyShape}} {
		b.waiting(g.base, "/account") // else the front page would just be loading itself again
		g.f.change(one.set)
		b.waiting(g.base, "/")
		look("/ " + one.name)
		if one.name == "all well" || one.name == "falling" {
			b.waiting(g.base, "/back?house=long-house&place=bench&place=ridge")
			look("/back " + one.name)
		}
	}
	b.tourCompanion(g, look)
	b.waiting(g.base, "/")
	g.stop()
	<-g.ended
	b.truth("it shows the past", `!document.getElementById("past").hidden`)
	look("/ past")
}
