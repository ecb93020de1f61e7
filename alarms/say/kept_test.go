package say_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

var failing = time.Date(2026, 6, 21, 14, 2, 0, 0, time.UTC)

// What is kept is read by each in their own words; text is as it is.
func TestKeptIsReadInEachLanguage(t *testing.T) {
	inGerman, now := say.Locale{Tongue: tongue.German}, failing.Add(time.Hour)
	for _, c := range []struct{ kept, english, german string }{
		{"text as it was, 3.5 %", "text as it was, 3.5 %", "text as it was, 3.5 %"},
		{"\x01 no more than that", "\x01 no more than that", "\x01 no more than that"},
		{tongue.Keep("channel %s has failed since %s: %s", "sms", failing, "dial 192.168.1.20: 100 % lost"),
			"channel sms has failed since 14:02: dial 192.168.1.20: 100 % lost", "Kanal sms versagt seit 14:02: dial 192.168.1.20: 100 % lost"},
		{tongue.Keep("%s: the disk of %s does not answer, or is very slow", tongue.Keep("no good copy since %s", tongue.Moment(failing)), "/copies"),
			"no good copy since 14:02 on 21 June 2026: the disk of /copies does not answer, or is very slow",
			"keine brauchbare Kopie seit 14:02 am 21. Juni 2026: der Datenträger von /copies antwortet nicht oder ist sehr langsam"},
		{tongue.Keep("%s has not confirmed that of %s", "Ada", tongue.Day(failing)),
			"Ada has not confirmed that of Sunday 21 June 2026", "Ada hat den Brief vom Sonntag, 21. Juni 2026 nicht bestätigt"},
		{tongue.Keep("%d times within %s the machine or the program ended without the watch having been stopped", 3, 30*time.Minute),
			"3 times within 30 min the machine or the program ended without the watch having been stopped",
			"3-mal in 30 min endete der Rechner oder das Programm, ohne dass die Wache angehalten wurde"},
		{tongue.Keep("%s is judged as in season %q", "Long House", say.KeptSeason(alarms.SeasonOpen)),
			`Long House is judged as in season "open"`, `Long House wird beurteilt wie in der Jahreszeit "offen"`},
	} {
		if got := (say.Locale{}).Kept(c.kept, now); got != c.english {
			t.Errorf("got %q, want %q", got, c.english)
		}
		if got := inGerman.Kept(c.kept, now); got != c.german {
			t.Errorf("got %q, want %q", got, c.german)
		}
	}
}

// A trouble of the watch is said in the language of the garden, and of whoever reads
// it, from what was kept of it and after a restart; what an early version kept as text
// is as it was.
func TestATroubleIsDataAndSaidInEachLanguage(t *testing.T) {
	const english, german = "The watch cannot save, since 14:02: no space is left on the disk.", "Die Wache kann nicht speichern, seit 14:02: der Datenträger ist voll."
	for _, c := range []struct {
		garden        tongue.Tongue
		note          string
		english, text string // text is said in the other language
	}{
		{tongue.English, tongue.Keep("no space is left on the disk"), english, german},
		{tongue.German, tongue.Keep("no space is left on the disk"), english, german},
		{tongue.English, "no space is left on the disk", english, "Die Wache kann nicht speichern, seit 14:02: no space is left on the disk."},
	} {
		plan := alarms.Plan{Words: alarms.Words{Zone: time.UTC, Tongue: c.garden}, Houses: []alarms.House{{ID: "long-house", Name: "Long House"}}}
		e, err := engine.New(plan)
		if err != nil {
			t.Fatal(err)
		}
		made := say.Step(e, alarms.Input{At: failing, Kind: alarms.TroubleOn, Alarm: alarms.TroubleDisk, Note: c.note})
		row, err := json.Marshal(made[0])
		if err != nil {
			t.Fatal(err)
		}
		var kept alarms.Transition
		if err := json.Unmarshal(row, &kept); err != nil {
			t.Fatal(err)
		}
		want := map[tongue.Tongue]string{tongue.English: c.english, tongue.German: c.text}
		garden := say.Of(e.Plan())
		if !strings.HasPrefix(made[0].Sentence, want[c.garden]) {
			t.Errorf("it is kept as %q, want %q", made[0].Sentence, want[c.garden])
		}
		if note := garden.Kept(c.note, failing); made[0].Reason.Note != note {
			t.Errorf("its note is kept as %q, want %q", made[0].Reason.Note, note)
		}
		snap, err := e.Snapshot()
		if err != nil {
			t.Fatal(err)
		}
		after, err := engine.Restore(plan, snap)
		if err != nil {
			t.Fatal(err)
		}
		for in, sentence := range want {
			m := say.In(alarms.Words{Zone: time.UTC, Tongue: in})
			if got := say.Again(e.Plan(), &kept, garden, m); !strings.HasPrefix(got, sentence) {
				t.Errorf("from the row %q, want %q", got, sentence)
			}
			for _, x := range []*engine.Engine{e, after} {
				if a := say.Picture(x.Plan(), x.Picture(), m).Alarms[0]; !strings.HasPrefix(a.Sentence, sentence) || !strings.HasPrefix(a.Told, sentence) {
					t.Errorf("the picture says %q, told %q, want %q", a.Sentence, a.Told, sentence)
				}
			}
		}
	}
}

// Who did something and what the watch itself notes is data, told to each in their language.
func TestWhoAndWhyAreSaidInEachLanguage(t *testing.T) {
	plan := alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Houses: []alarms.House{{ID: "long-house", Name: "Long House"}}}
	e, err := engine.New(plan)
	if err != nil {
		t.Fatal(err)
	}
	say.Step(e, alarms.Input{At: failing, Kind: alarms.TroubleOn, Alarm: alarms.TroubleCopies, Note: tongue.Keep("there is no good copy yet")})
	for i, c := range []struct {
		in              alarms.Input
		english, german string
	}{
		{alarms.Input{Kind: alarms.Acknowledge, By: "Ada" + alarms.ByLink}, "Ada, by a link has taken this", "Ada (über einen Link) hat quittiert"},
		{alarms.Input{Kind: alarms.Shelve, By: alarms.ByPage, Note: "sie ist open", Until: failing.Add(time.Hour)},
			"somebody at the page has put this aside until 15:02 (sie ist open)", "jemand auf der Seite hat dies bis 15:02 zurückgestellt (sie ist open)"},
		{alarms.Input{Kind: alarms.Unshelve, By: "Ada", Note: alarms.NoteAtFirst},
			"No longer put aside (as at the first watch). The watch has no recent copy of what it keeps, since 14:02: there is no good copy yet.",
			"Nicht mehr zurückgestellt (wie bei der ersten Wache). Die Wache hat keine neue Kopie ihrer Aufzeichnungen, seit 14:02: es gibt noch keine brauchbare Kopie."},
		{alarms.Input{Kind: alarms.Shelve, By: "Ada", Until: failing.Add(time.Minute)}, // in the past by then
			`"The watch has no recent copy of what it keeps": not shelved: an end in the future is needed.`, "nicht zurückgestellt: es braucht ein Ende in der Zukunft."},
	} {
		c.in.At, c.in.Alarm = failing.Add(time.Duration(i+1)*time.Minute), alarms.TroubleCopies
		made := say.Step(e, c.in)
		if len(made) != 1 {
			t.Fatalf("%+v made %+v", c.in, made)
		}
		if !strings.HasPrefix(made[0].Sentence, c.english) {
			t.Errorf("got %q, want %q", made[0].Sentence, c.english)
		}
		if got := say.Again(e.Plan(), &made[0], say.Of(e.Plan()), say.Locale{Zone: time.UTC, Tongue: tongue.German}); !strings.Contains(got, c.german) {
			t.Errorf("got %q, want %q", got, c.german)
		}
	}
}
