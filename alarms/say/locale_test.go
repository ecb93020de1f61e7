package say_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// visitor writes numbers and times in another way than any garden here.
var visitor = say.Locale{Fahrenheit: true, Decimal: ",", Hours12: true, Zone: time.UTC}

// loopGarden is a house whose place is named for the depth of a pipe.
func loopGarden(t *testing.T) *engine.Engine {
	t.Helper()
	e, err := engine.New(alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House",
		Places: []alarms.Place{{ID: "pipe", Name: "pipe 2.3 m",
			Bands:  []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{High: alarms.At(33)}}},
			Probes: []alarms.Probe{{ID: "pipe-1", Name: "pipe-1.5", Every: time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}}}}}}})
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// hot lets it be 40.5 °C in the garden of e, and returns what that raised.
func hot(t *testing.T, e *engine.Engine, noon time.Time) alarms.Transition {
	t.Helper()
	for i := range 5 {
		for _, tr := range step(e, alarms.Input{At: noon.Add(time.Duration(i) * time.Minute), Kind: alarms.ReadingIn, Probe: "pipe-1",
			Quantity: alarms.Temperature, Value: 40.5 + 0.1*float64(i%2)}) {
			if tr.Move == alarms.Raise {
				return tr
			}
		}
	}
	t.Fatal("nothing was raised")
	return alarms.Transition{}
}

// A visitor's locale is that of the values and times alone: names, addresses and
// what somebody else said stay as they are.
func TestNamesAndAddressesKeepTheirDigits(t *testing.T) {
	e, noon := loopGarden(t), time.Date(2026, 6, 21, 14, 0, 0, 0, time.UTC)
	raised := hot(t, e, noon)
	for m, want := range map[say.Locale]string{
		say.Of(e.Plan()): "Too hot in Long House, pipe 2.3 m: 40.5 °C (limit 33.0 °C) since 14:00",
		visitor:          "Too hot in Long House, pipe 2.3 m: 104,9 °F (limit 91,4 °F) since 2:00\u00a0pm",
	} {
		if got := say.Again(e.Plan(), &raised, say.Of(e.Plan()), m); !strings.HasPrefix(got, want) {
			t.Errorf("got  %q\nwant %q", got, want)
		}
	}
	const why = "dial 192.168.1.20:22: no route since 12.5 s"
	step(e, alarms.Input{At: noon.Add(10 * time.Minute), Kind: alarms.LinkDown, Note: why})
	lost := slices.DeleteFunc(step(e, alarms.Input{At: noon.Add(20 * time.Minute), Kind: alarms.Tick}),
		func(tr alarms.Transition) bool { return tr.Reason.Rule != alarms.RuleLink })
	if len(lost) != 1 || !strings.Contains(lost[0].Sentence, "since 14:10 ("+why+")") {
		t.Fatalf("the link is lost: %+v", lost)
	}
	if got := say.Again(e.Plan(), &lost[0], say.Of(e.Plan()), visitor); !strings.Contains(got, "since 2:10\u00a0pm ("+why+")") {
		t.Errorf("got %q", got)
	}
	for _, a := range say.Picture(e.Plan(), e.Picture(), visitor).Alarms {
		if a.Rule == alarms.RuleLink && (!strings.Contains(a.Told, why) || !strings.Contains(a.Sentence, why)) {
			t.Errorf("the picture says %q and %q", a.Told, a.Sentence)
		}
	}
}

// What was kept is said again only where that is sure to say the same: after a
// change of a name, of the words, or without facts it stays as it was kept.
func TestWhatWasKeptStaysWhereItCannotBeSaidAgain(t *testing.T) {
	e := loopGarden(t)
	raised := hot(t, e, time.Date(2026, 6, 21, 14, 0, 0, 0, time.UTC))
	row, err := json.Marshal(raised)
	if err != nil {
		t.Fatal(err)
	}
	var kept alarms.Transition
	if err := json.Unmarshal(row, &kept); err != nil {
		t.Fatal(err)
	}
	garden := say.Of(e.Plan())
	if got := say.Again(e.Plan(), &kept, garden, visitor); !strings.Contains(got, "104,9 °F") {
		t.Errorf("from the row: %q", got)
	}
	renamed := e.Plan().Filled()
	renamed.Houses[0].Places[0].Name = "deep pipe"
	old, worded := kept, kept
	old.Background, worded.Sentence = nil, "Too hot there: 40.5 °C."
	for what, c := range map[string]struct {
		plan *alarms.Plan
		t    alarms.Transition
	}{"a name": {&renamed, kept}, "no facts": {e.Plan(), old}, "other words": {e.Plan(), worded}, "no house": {&alarms.Plan{}, kept}} {
		if got := say.Again(c.plan, &c.t, garden, visitor); got != c.t.Sentence {
			t.Errorf("%s: got %q, want %q as it was kept", what, got, c.t.Sentence)
		}
	}
}

// A picture is handed to many visitors, each of whom has it in their own words.
func TestAPictureIsSharedByAllLocales(t *testing.T) {
	e := loopGarden(t)
	hot(t, e, time.Date(2026, 6, 21, 14, 0, 0, 0, time.UTC))
	plain, again := e.Picture(), e.Picture()
	for _, m := range []say.Locale{visitor, {}} {
		if p := say.Picture(e.Plan(), plain, m); p.Sentence == "" || p.Alarms[0].Sentence == "" || p.Houses[0].Sentence == "" {
			t.Errorf("%+v: no words in %+v", m, p)
		}
	}
	if !reflect.DeepEqual(plain, again) {
		t.Error("the picture was changed")
	}
}

// Nothing is said of what no data says, and nothing ends the watch: each transition
// of each rule and move is said with data that an early or a broken row may hold.
func TestAnyRowCanBeSaid(t *testing.T) {
	e := loopGarden(t)
	rules := []alarms.Rule{alarms.RuleLimit, alarms.RuleAhead, alarms.RuleRate, alarms.RuleFault, alarms.RuleSilent, alarms.RuleExposure, alarms.RuleUnwatched,
		alarms.RuleLoop, alarms.RuleLink, alarms.RuleRestart, alarms.RuleClock, alarms.RuleTrouble, alarms.RuleSeason, alarms.RuleControl,
		alarms.RuleSwitching, alarms.RulePerson, alarms.RuleOpening, "later"}
	for _, r := range rules {
		for m := alarms.Raise; m <= alarms.Note; m++ {
			for _, f := range []*alarms.Background{{}, {Condition: alarms.Outer, First: &alarms.First{}}, {Gone: &alarms.Gone{}},
				{Condition: alarms.Outer, Verdict: &alarms.Verdict{}, Losses: []alarms.Ailment{{How: alarms.AilsFault}}, Ails: []alarms.Ailment{{How: "later"}},
					Feed: &alarms.FeedLoss{Stand: []alarms.DriveID{"fan"}}, Witness: &alarms.Witness{}, Season: &alarms.SeasonFacts{}}} {
				f.Of.Rule = r
				ts := []alarms.Transition{{Alarm: "a", Move: m, To: alarms.Unacknowledged, Background: f}}
				if say.Complete(e.Plan(), ts, visitor); ts[0].Sentence == "" {
					t.Errorf("%s, %s: nothing is said", r, m)
				}
			}
		}
	}
}
