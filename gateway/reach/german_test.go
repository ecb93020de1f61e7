package reach

import (
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// english are words that no German sentence has, and what a sentence that was put
// together badly has.
var english = regexp.MustCompile(`(?i)\b(the|and|is|are|was|were|of|at|since|with|by|too|not|no|again|first|you|this|that|it|from|until|over|within|your)\b|%!|\||  `)

// inGerman is garden for people who are told in German.
func inGerman() Rules {
	r := garden()
	r.Words.Tongue = tongue.German
	for i := range r.People {
		r.People[i].Tongue = tongue.German
	}
	return r
}

// rulesTold are the rules that messages say something of by themselves, each with the
// reasons that make a difference.
func rulesTold() (all []alarms.Reason) {
	for rule := range facts {
		all = append(all, alarms.Reason{Rule: rule})
	}
	for f := range faults {
		all = append(all, alarms.Reason{Rule: alarms.RuleFault, Fault: f})
	}
	for kind := range leftOpen {
		all = append(all, alarms.Reason{Rule: alarms.RuleOpening, Opening: &alarms.OpeningReason{Kind: kind}})
	}
	for _, end := range []alarms.LeaveEnd{"", alarms.LeaveBack, alarms.LeaveOver} {
		all = append(all, alarms.Reason{Rule: alarms.RuleLeave, Leave: &alarms.LeaveReason{Leave: alarms.Leave{Person: "Ada"}, Ended: end}})
	}
	return append(all, alarms.Reason{Rule: alarms.RuleFault}, alarms.Reason{Rule: alarms.RuleOpening}, alarms.Reason{Rule: alarms.RuleLeave}, alarms.Reason{Rule: alarms.RuleLoop})
}

// TestEveryMessageIsInGerman reads what is told of every rule at every move over each
// kind of channel.
func TestEveryMessageIsInGerman(t *testing.T) {
	x := &exchange{}
	n := 0
	for _, reason := range rulesTold() {
		for move := alarms.Raise; move <= alarms.Note; move++ {
			for _, to := range []alarms.State{alarms.Unacknowledged, alarms.Normal} {
				tr := with(tooHot(alarms.Priority(1+n%3)), "1", move, alarms.Normal, to, noon)
				reason.House, reason.Place, reason.Since, reason.Check = "long-house", "bench", noon.Add(-time.Hour), "Läuft der Ventilator?"
				tr.Reason, tr.Sentence = reason, "Long House, bench: Satz."
				give := telling(inGerman(), "mail", tr)
				give.At = noon.Add(time.Hour)
				give.Events[0].Unanswered, give.Events[0].Acknowledge = 900*(n%3), "http://127.0.0.1:8080/ack"
				said := []string{Subject(give), Text(give), pushSentences(give), toldAt(give)}
				for _, l := range NewPhone(x, nil).letters(give) {
					said = append(said, l.text)
					if most := x.Parts(l.text); most > shortText {
						t.Errorf("%d parts: %s", most, l.text)
					}
				}
				for _, s := range said {
					if word := english.FindString(s); word != "" {
						t.Errorf("%s at %s: %q in %s", reason.Rule, move, word, s)
					}
				}
				if title := Subject(give); utf8.RuneCountInString(title) > mostTitle || strings.HasSuffix(title, ": ") {
					t.Errorf("%s at %s: the title is %q", reason.Rule, move, title)
				}
				n++
			}
		}
	}
	if n < 500 {
		t.Errorf("only %d messages were read", n)
	}
}

// gsm are the signs of text messages that take one place (3GPP TS 23.038, 6.2.1), as far
// as German needs them, and those of its extension table.
const gsm = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 äöüÄÖÜß.,:;!?()#%&/+-*'\"<>=@\n_" + "{}[]~\\|€^"

// TestGermanTextsKeepToTheAlphabet: one other sign would make a text take twice the room.
func TestGermanTextsKeepToTheAlphabet(t *testing.T) {
	answers := Answers{say.In(inGerman().Words)}
	body, limit := route(t, inGerman(), tooHot(alarms.High))[0].Body, 35.0
	row := func(n, more int, first alarms.AlarmPicture) string {
		said, err := answers.Taken(slices.Repeat([][]byte{body}, n), first, more)
		if err != nil {
			t.Fatal(err)
		}
		return said
	}
	all := []string{answers.Unknown(), answers.Gone(), answers.Long(), answers.Back(), answers.Sentence("Drinnen 21,4 °C – „Long House“ … gut."), row(0, 0, alarms.AlarmPicture{}),
		row(1, 1, alarms.AlarmPicture{Until: noon}), row(1, 2, alarms.AlarmPicture{Until: noon, Reaches: &limit}), row(12, 0, alarms.AlarmPicture{})}
	for _, l := range NewPhone(&exchange{}, nil).letters(TestTelling("Ada", "sms", tongue.German, noon)) {
		all = append(all, l.text)
	}
	for _, s := range all {
		if i := strings.IndexFunc(s, func(c rune) bool { return !strings.ContainsRune(gsm, c) }); i >= 0 {
			t.Errorf("sign %q in %s", []rune(s[i:])[0], s)
		}
		if parts := (&exchange{}).Parts(s); parts > shortText {
			t.Errorf("%d parts: %s", parts, s)
		}
	}
}

// harmful is the German headline of an exposure that does some harm.
func harmful(says string) string {
	t := tooHot(alarms.High)
	t.Reason = alarms.Reason{Rule: alarms.RuleExposure, House: "long-house", Place: "bench", Exposure: &alarms.ExposureReason{Says: says}}
	return headline(telling(inGerman(), "sms", t).Events[0], say.Locale{Tongue: tongue.German})
}

func TestWhatGermanMessagesSay(t *testing.T) {
	silent := tooHot(alarms.High)
	silent.Reason = alarms.Reason{Rule: alarms.RuleSilent, House: "long-house", Place: "bench", Probe: "bench-1", Since: noon.Add(-time.Minute), Check: "Batterie leer"}
	silent.Sentence = "Long House, bench: seit 11:59 ist von bench-1 nichts zu hören."
	give := telling(inGerman(), "mail", silent, with(silent, "2", alarms.Return, alarms.Unacknowledged, alarms.ReturnedUnack, noon))
	give.Events[0].Unanswered = 900
	want := `2 Nachrichten kamen kurz nacheinander. Die dringendste steht zuerst.

1. Long House, bench: seit 11:59 ist von bench-1 nichts zu hören.
Zuerst nachsehen: Batterie leer.
Seit 11:59 am Donnerstag, 9. Juli.
Dringlichkeit: hoch.
Diese Nachricht kommt, weil innerhalb von 15 Minuten niemand quittiert hat.

2. Long House, bench: seit 11:59 ist von bench-1 nichts zu hören.

Hier ansehen und quittieren: http://127.0.0.1:8080/

` + tongue.German.Say(caution) + "\n"
	if got := Text(give); got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
	if got, want := Subject(give), "Hoch: Long House, bench, Fühler bench-1: nichts zu hören (und 1 weitere)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for give, want := range map[string]string{
		toldAt(give): "\nGemeldet um 12:00 am Donnerstag, 9. Juli.",
		phoneLine(telling(inGerman(), "sms", with(silent, "3", alarms.Worsen, silent.To, silent.To, noon)).Events[0]): "Hoch: schlimmer. " + silent.Sentence,
		headline(telling(inGerman(), "sms", with(silent, "3", alarms.Realarm, silent.To, silent.To, noon)).Events[0], say.Locale{Tongue: tongue.German}): "Hoch: " +
			"Long House, bench, Fühler bench-1: immer noch: nichts zu hören",
		harmful("tomato fruit set is failing"):  "Hoch: Long House, bench: der Fruchtansatz der Tomaten versagt",
		harmful("the 100 % pure | melons sulk"): "Hoch: Long House, bench: the 100 % pure | melons sulk",
	} {
		if give != want {
			t.Errorf("got %q, want %q", give, want)
		}
	}
	rows, err := inGerman().ForgottenRows("Ben", "Telefon", "push", noon)
	if err != nil || len(rows) != 1 || !strings.Contains(string(rows[0].Body), `"language":"de"`) || english.Match(rows[0].Body[strings.Index(string(rows[0].Body), "sentence"):]) {
		t.Errorf("got %+v, %v", rows, err)
	}
}

// TestEachIsToldInTheirLanguage: what is saved says it, in the words of each person.
func TestEachIsToldInTheirLanguage(t *testing.T) {
	r := garden()
	r.People[0].Tongue = tongue.German
	silent := tooHot(alarms.High)
	silent.Reason = alarms.Reason{Rule: alarms.RuleSilent, House: "long-house"}
	tests, err := r.TestRows(noon)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range append(route(t, r, silent), tests...) {
		e, err := readEvent(row.Body)
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]tongue.Tongue{"Ada": tongue.German}[row.Person]
		if german := strings.Contains(e.Headline, "nichts zu hören") || strings.Contains(e.Headline, "alles in Ordnung"); e.Language != want || german != (want == tongue.German) {
			t.Errorf("%s: %q in %q", row.ID, e.Headline, e.Language)
		}
	}
}
