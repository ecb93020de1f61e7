package reports

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

// week is one of the Long House, in which its dial is off and a message was lost.
func week() LetterOf {
	at := func(d, h int) time.Time { return time.Date(2026, 3, d, h, 0, 0, 0, time.UTC) }
	s := report.Span{From: at(22, 0), To: at(29, 10)}
	measure := func(p alarms.PlaceID, banded bool, lo, hi float64, known time.Duration) report.Measure {
		return report.Measure{Place: p, Quantity: alarms.Temperature, Banded: banded, Cell: report.Cell{Span: s, Known: known},
			Lowest: report.Extreme{Value: lo, At: at(24, 6)}, Highest: report.Extreme{Value: hi, At: at(28, 14)}}
	}
	r := report.Report{House: "long-house", Name: "Long House", Span: s, Counted: s,
		Places: []report.PlaceName{{ID: "bench", Name: "bench"}, {ID: "ridge", Name: "ridge"}, {ID: "outside", Name: "outside"}},
		Measures: []report.Measure{measure("bench", true, 4.2, 31, s.Len()), measure("ridge", true, 0, 0, 0),
			measure("outside", false, -2, 17, s.Len())},
		Drives: []report.Drive{{ID: "exhaust-fan", Name: "exhaust fan", Starts: 42, Ran: 380 * time.Minute, Right: 40, Missed: 1}},
		Loop:   &report.Loop{LoopEnergy: alarms.LoopEnergy{Heat: 12.3, Cold: 2.1, Fan: 1.1}, Days: 7},
		Load:   report.Load{Alarms: 12, ByPriority: [4]int{alarms.High: 1, alarms.Medium: 3, alarms.Low: 8}},
	}
	r.Measures[0].Beyond.Any = 90 * time.Minute
	battery, full := 18.0, 90.0
	p := alarms.Picture{Houses: []alarms.HousePicture{{ID: "long-house", Name: "Long House",
		Dials: []alarms.Dial{{Control: "thermostat", Stage: "cooling", Quantity: alarms.Temperature, Set: 26, Found: 26.8, Spread: 0.2, Count: 12}},
		Places: []alarms.PlacePicture{{ID: "bench", Probes: []alarms.ProbePicture{
			{Name: "bench-1", Battery: &battery, Values: []alarms.ProbeValue{{Quantity: alarms.Temperature}},
				Calibrations: []alarms.CalibrationPicture{{Quantity: alarms.Temperature, At: at(1, 0).AddDate(-2, 0, 0)}}},
			{Name: "bench-2", Battery: &full, Values: []alarms.ProbeValue{{Quantity: alarms.Humidity}}}}}}}},
		Alarms: []alarms.AlarmPicture{{State: alarms.Unacknowledged, Title: "Long House, ridge: no healthy probe"}, {State: alarms.ReturnedUnack, Title: "over"}}}
	return LetterOf{Garden: "Thimble Garth", Week: s, Houses: []report.Report{r}, Picture: p, Drill: time.Date(2025, 4, 14, 9, 0, 0, 0, time.UTC),
		Told:   []report.Told{{Person: "Ada", Channel: "mail", HandedOver: 9, GivenUp: 1}, {Person: "Ada", Channel: "sms", Delivered: 2}, {Person: "Ben", Channel: "mail", HandedOver: 1}},
		Others: []string{"Ben has not confirmed the trial of 1 March."}}
}

const wholeLetter = `Thimble Garth, Sun 22 March 2026 to Sun 29 March 2026

Long House
- Bench: temperature from 4.2 °C to 31.0 °C, 1.5 h beyond its limits.
- Ridge: nothing is known of its temperature.
- Exhaust fan: starts 42, ran for 6.3 h; called, it switched as it should 40 times and did not once.
- Thermostat, cooling: set to 26.0 °C, it switches on at 26.8 °C: 0.8 °C above the dial, by 12 switchings.
- Ground loop: it brought 12.3 kWh of heat, took 2.1 kWh out, and its fan used 1.1 kWh; whole days counted: 7.
- Alarms: 12; 1 of high priority, 3 of medium, 8 of low, with those of the watch itself.

The watch
- Ada was told 12 times, of which 1 did not arrive.
- Ben was told once.
- Ben has not confirmed the trial of 1 March.
- Of the batteries, that of probe bench-1 is the lowest: 18 %.
- The oldest calibration is that of probe bench-1, of 1 March 2024; probes never calibrated: 1.
- The drill at the start of a season was last done on 14 April 2025.

What to do
1. Say with one tap that this letter reached you, as a trial of the way that alarms take: https://garden.example.org/tap?t=x
2. See to this, which is on now: Long House, ridge: no healthy probe.
3. Put a new battery into probe bench-1.
4. Look under Who was told on the page why messages did not arrive.
5. Hold probe bench-1 against a thermometer that you trust, and calibrate it.`

func TestALetterSaysTheWeek(t *testing.T) {
	w := words.New(alarms.Words{})
	head, text := LetterText(w, week(), Ask{Link: "https://garden.example.org/tap?t=x"})
	if got := strings.ReplaceAll(text, words.NoBreak, " "); got != wholeLetter {
		t.Errorf("the letter is\n%s\nwant\n%s", got, wholeLetter)
	}
	if want := "Letter of the week: Long House 4.2 °C to 31.0 °C, alarms: 12 (1 of high priority)"; strings.ReplaceAll(head, words.NoBreak, " ") != want {
		t.Errorf("its headline is %q, want %q", head, want)
	}
	if n := strings.Count(text, "\n"); n > 30 {
		t.Errorf("it has %d lines", n)
	}
}

// One text holds it whatever there is to say; 150 letters leave room for the ID.
func TestALetterFitsOneText(t *testing.T) {
	w := words.New(alarms.Words{})
	o := week()
	if got, want := strings.ReplaceAll(LetterShort(w, o), words.NoBreak, " "),
		"Letter of the week: Long House 4.2 °C to 31.0 °C, alarms: 12 (1 of high priority). Reply YES to show that it reached you."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for range 6 {
		more := o.Houses[0]
		more.Name = strings.Repeat("long ", len(o.Houses)*8) + "house"
		o.Houses = append([]report.Report{more}, o.Houses...)
		if s := LetterShort(w, o); len([]rune(s)) > shortLetter || !strings.Contains(s, "Reply YES") {
			t.Errorf("%d letters: %q", len([]rune(s)), s)
		}
	}
	if _, _, short := TrialText(w, "Ben", Ask{Text: true}); len(short) > shortLetter || !strings.HasPrefix(short, "TRIAL") {
		t.Errorf("the trial is %q", short)
	}
}

// What cannot be read, and nothing at all, are said.
func TestALetterOfNothing(t *testing.T) {
	w := words.New(alarms.Words{})
	head, text := LetterText(w, LetterOf{Garden: "Thimble Garth", Week: week().Week, Unread: "the disk does not answer"}, Ask{Text: true})
	for _, want := range []string{"What was measured cannot be read: the disk does not answer.", "Nobody was told anything.", "was never done",
		"1. Reply YES: it is the trial of the way that alarms take.", "2. Do the drill"} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	if head != "Letter of the week: nothing was measured" {
		t.Errorf("its headline is %q", head)
	}
}

// What an exposure does is told in the visitor's language, a grower's own words as they are.
func TestHarmInGerman(t *testing.T) {
	w := reportWords{words.New(alarms.Words{}).Speaking(tongue.German), week().Houses[0]}
	for says, want := range map[string]string{"basil is chilled": "bench: Basilikum leidet unter Kälte", "the vines sulk": "bench: the vines sulk"} {
		x := alarms.ExposureReason{Says: says, Limit: time.Hour}
		if got := w.what(alarms.Transition{Reason: alarms.Reason{Rule: alarms.RuleExposure, Place: "bench", Exposure: &x}}); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
		w.r.Exposed = []report.Exposed{{Place: "bench", At: w.r.From, ExposureReason: x}}
		if got := w.exposed().Tables[0].Rows[0][2]; "bench: "+got != want {
			t.Errorf("the table says %q, want %q", got, want)
		}
	}
}

const germanLetter = `Thimble Garth, So 22. März 2026 bis So 29. März 2026

Long House
- Bench: Temperatur von 4,2 °C bis 31,0 °C, 1,5 h jenseits der Grenzen.
- Ridge: Von der Temperatur ist nichts bekannt.
- Exhaust fan: Starts: 42, Laufzeit 6,3 h; gerufen, und richtig geschaltet: 40-mal, nicht: einmal.
- Thermostat, cooling: eingestellt auf 26,0 °C, schaltet ein bei 26,8 °C: 0,8 °C über der Einstellung, nach 12 Schaltungen.
- Erdspeicher: brachte 12,3 kWh Wärme, nahm 2,1 kWh auf, sein Rohrventilator brauchte 1,1 kWh; ganze Tage gezählt: 7.
- Alarme: 12; davon 1 von hoher, 3 von mittlerer, 8 von niedriger Priorität, die der Wache selbst mitgezählt.

Die Wache
- Ada wurde 12-mal benachrichtigt; nicht angekommen: 1.
- Ben wurde einmal benachrichtigt.
- Ben hat die Probe vom 1. März nicht bestätigt.
- Von den Batterien ist die von Fühler bench-1 die schwächste: 18 %.
- Die älteste Kalibrierung ist die von Fühler bench-1, vom 1. März 2024; nie kalibrierte Fühler: 1.
- Die Übung zu Beginn der Saison wurde zuletzt am 14. April 2025 gemacht.

Zu tun
1. Mit JA antworten: So wird der Weg erprobt, den Alarme nehmen.
2. Nachsehen, das steht gerade an: Long House, ridge: no healthy probe.
3. In Fühler bench-1 eine neue Batterie einlegen.
4. Auf der Seite unter „Wem gemeldet wurde“ nachsehen, warum Meldungen nicht ankamen.
5. Fühler bench-1 neben ein verlässliches Thermometer halten und kalibrieren.`

// What the letter is given in words, as titles of alarms, is in its language already.
func TestALetterInGerman(t *testing.T) {
	w, o := words.New(alarms.Words{}).Speaking(tongue.German), week()
	o.Others = []string{Confirmed(w, "Ben", time.Date(2026, 3, 1, 10, 0, 0, 0, time.UTC), false)}
	head, text := LetterText(w, o, Ask{Text: true})
	if got := strings.ReplaceAll(text, words.NoBreak, " "); got != germanLetter {
		t.Errorf("the letter is\n%s\nwant\n%s", got, germanLetter)
	}
	if want := "Wochenbrief: Long House 4,2 °C bis 31,0 °C, Alarme: 12 (davon 1 von hoher Priorität)"; strings.ReplaceAll(head, words.NoBreak, " ") != want {
		t.Errorf("its headline is %q, want %q", head, want)
	}
	_, _, trial := TrialText(w, "Ben", Ask{Text: true})
	for _, short := range []string{LetterShort(w, o), trial} {
		if len([]rune(short)) > shortLetter || !strings.Contains(short, "JA") {
			t.Errorf("%d letters: %q", len([]rune(short)), short)
		}
	}
}
