package page

import (
	"encoding/json"
	"math"
	"net/http"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/scenes"
)

// drawnAhead serves the garden with a past and what is ahead.
func drawnAhead(t *testing.T, set func(*alarms.Picture)) *started {
	t.Helper()
	f := newFake()
	f.change(set)
	return start(t, Options{Watch: f, Course: newFakeCourse(f), Forms: scenes.Forms()})
}

// What is ahead is in the strip that ends now, by shape and in words, and nowhere else.
func TestWhatIsAheadStandsBesideNow(t *testing.T) {
	st := drawnAhead(t, allWell)
	drawn := []string{`class="likely in0"`, `class="likely in2"`, `class="nowline"`, `class="hollow" d="M0-6`, `class="solid" d="M0-6`, ">likely<", ">now<", ">8 in 10<", "likely: 4, 8 and 9 in 10 stay within", `data-share="70"`}
	said := []string{"Until 14:01 it is expected to stay between 31 and 36 °C (8 in 10).", "Of 14 warnings in the last 30 days 12 came true", "It is a guess.", `href="/help/outlook"`}
	_, text := st.get("/back?house=long-house")
	wantAll(t, text, append(drawn, said...)...)
	desc := text[strings.Index(text, "<desc"):strings.Index(text, "</desc>")]
	wantAll(t, desc, "Ahead: Until 14:01 it is expected")
	_, text = st.get("/")
	wantAll(t, text, append(drawn[:len(drawn)-1], said...)...)
	for _, path := range []string{"/back?house=long-house&zoom=week", "/back?house=long-house&until=2026-05-04T08:00Z", "/back?house=long-house&zoom=year", "/back?house=low-house"} {
		_, text := st.get(path)
		wantNone(t, text, `class="likely`, "nowline", "Until 14:01", "It is a guess")
		wantAll(t, text, `data-share="100"`)
	}
}

// Where nothing can be said nothing is drawn, and why is said, beside the place it is of.
func TestWhyNothingIsAhead(t *testing.T) {
	st := drawnAhead(t, falling)
	_, text := st.get("/back?house=long-house&place=ridge")
	wantAll(t, text, "Nothing can be said yet of the next two hours: two days of readings are needed first.")
	wantNone(t, text, `class="likely`, "nowline", "It is a guess")
	_, text = st.get("/back?house=long-house&place=bench&place=ridge")
	wantAll(t, text, "<b>bench.</b> Until 14:02 it is expected", "<b>ridge.</b> Nothing can be said yet", `class="likely in0"`)
}

// The day ahead is one line; time in hand stands beside its drive, with what it is not.
func TestDayAheadAndTimeInHand(t *testing.T) {
	st := drawnAhead(t, allWell)
	_, text := st.get("/")
	wantAll(t, text, `<p class="dayahead"><b>Bench.</b> Today likely up to 35 °C`,
		"<b>Bench.</b> If the exhaust fan fails now: 15 min to 37.0 °C (9 min to 20 min).", "5.0 °C is likely not reached by sunrise",
		"It is no leave to stay away from a failed fan.", "What Long House is like…", "<li><b>Bench.</b> The exhaust fan carries off as much warmth as 38 air changes")
	fan := text[strings.Index(text, `id="drive_long-house_exhaust"`):]
	if at := strings.Index(fan, "</li>"); !strings.Contains(fan[:at], "15 min to 37.0") {
		t.Error("time in hand does not stand beside its drive")
	}
	st = drawnAhead(t, func(p *alarms.Picture) {
		*p = scenes.Garden(noon)
		p.Houses[0].Places[0].Outlook = nil
	})
	_, text = st.get("/")
	wantNone(t, text, "dayahead", "fails now", "handnote", "is like…")
}

// Of several limits the one that comes first is said; what is known goes before what is not.
func TestTheFirstLimitIsSaid(t *testing.T) {
	fail := func(says string, known, holds bool, middle int) alarms.DriveFailure {
		return alarms.DriveFailure{Drive: "fan", Known: known, Holds: holds, Middle: 1 << middle, Sentence: says}
	}
	h := alarms.HousePicture{Places: []alarms.PlacePicture{{}, {Outlook: &alarms.OutlookPicture{Drives: []alarms.DriveFailure{
		fail("unknown", false, false, 0), fail("holds", true, true, 0), fail("later", true, false, 9), fail("soon", true, false, 3), {Drive: "loop", Known: true, Sentence: "loop"}}}}}}
	if got := handsOf(h, "fan"); len(got) != 1 || got[0].Says != "soon" {
		t.Errorf("got %q, want the soonest alone", got)
	}
	h.Places[1].Outlook.Drives = h.Places[1].Outlook.Drives[:1]
	if got := handsOf(h, "fan"); len(got) != 1 || got[0].Says != "unknown" {
		t.Errorf("got %q, want that it is not known", got)
	}
}

// What is expected of a place is answered as documented, and not where it is old.
func TestAPILooksAhead(t *testing.T) {
	a := apiOf(t)
	for name, tt := range map[string]struct {
		set                                   func(*alarms.Picture)
		lacks                                 string
		ahead, limits, days, drives, warnings int
	}{
		"expected": {allWell, "", 4, 3, 1, 2, 14},
		"too new":  {func(p *alarms.Picture) { *p = scenes.Garden(noon); p.Houses[0].Places[0].Outlook = scenes.TooNew() }, "days", 0, 0, 0, 0, 0},
		"an old look": {func(p *alarms.Picture) {
			*p = scenes.Garden(noon)
			p.Houses[0].Places[0].Outlook.At = noon.Add(-time.Hour)
		}, "", 0, 0, 1, 2, 14},
		"no number": {func(p *alarms.Picture) {
			*p = scenes.Garden(noon)
			p.Houses[0].Places[0].Outlook.Ahead[2].Highest[1] = math.NaN()
		}, "", 3, 3, 1, 2, 14},
	} {
		a.fake.change(tt.set)
		var got struct {
			Houses []struct {
				Places []struct {
					Outlook *struct {
						Lacks    string
						Ahead    []any
						Limits   []any
						Days     []any
						Drives   []any
						Warnings struct{ Right, False int }
					}
				}
			}
		}
		text := a.call("GET", "/api/v1/houses", lookToken, "", http.StatusOK)
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatal(name, err)
		}
		if got.Houses[0].Places[1].Outlook != nil {
			t.Errorf("%s: something is expected of a place without a limit", name)
		}
		o := got.Houses[0].Places[0].Outlook
		if o == nil || o.Lacks != tt.lacks || len(o.Ahead) != tt.ahead || len(o.Limits) != tt.limits || len(o.Days) != tt.days || len(o.Drives) != tt.drives || o.Warnings.Right+o.Warnings.False != tt.warnings {
			t.Errorf("%s: got %+v, want %+v", name, o, tt)
		}
	}
}
