package forms

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/alarms/tongue"
	"telltale/gateway/config/edit"
	"telltale/gateway/manual"
)

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// draft is that of a text.
func draft(t *testing.T, text string) *edit.Draft {
	t.Helper()
	file := filepath.Join(t.TempDir(), "thimble-garth.toml")
	ok(t, os.WriteFile(file, []byte(text), 0o600))
	d, problems := edit.OpenDraft(file, func(string) (string, bool) { return "x", true })
	ok(t, problems.Err())
	return d
}

// goods are configs with all that there is.
func goods(t *testing.T) []string {
	t.Helper()
	var all []string
	for _, pattern := range []string{"../../../testdata/config/good/*.toml", "../../../cmd/telltale/demo.toml", "../../../deploy/*.toml"} {
		files, err := filepath.Glob(pattern)
		ok(t, err)
		all = append(all, files...)
	}
	if len(all) < 5 {
		t.Fatalf("found only %q", all)
	}
	return all
}

// as is what a browser sends of a form that nobody touched.
func as(f Form) map[string][]string {
	v := map[string][]string{}
	for _, g := range f.Groups {
		for _, one := range g.Fields {
			v[one.Name] = []string{one.Value}
		}
	}
	return v
}

// A form that nobody changed changes nothing, of each table of each good file.
func TestWhatIsLeftAsItIsStaysAsItIs(t *testing.T) {
	n, fields := 0, 0
	seen := map[string]bool{}
	for _, file := range goods(t) {
		text, err := os.ReadFile(file)
		ok(t, err)
		for _, thing := range Things(draft(t, string(text)), tongue.English) {
			d := draft(t, string(text))
			f, there := Of(d, tongue.English, thing.At)
			if !there {
				t.Errorf("%s: %s is offered and has no form", file, thing.At)
				continue
			}
			if thing.New || thing.Empty {
				continue
			}
			n++
			for _, g := range f.Groups {
				fields += len(g.Fields)
				for _, one := range g.Fields {
					seen[one.key] = seen[one.key] || one.Value != ""
				}
			}
			out := Fill(d, f, as(f))
			if len(out.Lines) > 0 || d.Text() != string(text) {
				t.Errorf("%s: %s: %+v", file, thing.At, out.Lines)
			}
		}
	}
	if n < 100 || fields < 1000 || len(seen) < 80 {
		t.Errorf("%d forms with %d fields of %d keys: too few to tell", n, fields, len(seen))
	}
}

// Each value that a form shows, typed anew into an empty one of the same table, brings
// back what the file said.
func TestWhatIsShownCanBeTyped(t *testing.T) {
	text, err := os.ReadFile("../../../cmd/telltale/demo.toml")
	ok(t, err)
	typed := 0
	for _, thing := range Things(draft(t, string(text)), tongue.English) {
		d := draft(t, string(text))
		f, there := Of(d, tongue.English, thing.At)
		if !there || thing.New || thing.Empty || isList(f) {
			continue
		}
		path := strings.Split(thing.At, "/")
		for _, g := range f.Groups {
			for _, one := range g.Fields {
				if one.Value == "" {
					continue
				}
				was := d.Value(append(slices.Clone(one.path), one.key)...)
				d.Set(one.path, one.key, nil)
				if d.Value(append(slices.Clone(one.path), one.key)...) != nil {
					t.Errorf("%s: %s cannot be taken out", thing.At, one.Name)
				}
				d.Set(one.path, one.key, one.value())
				if got := d.Value(append(slices.Clone(one.path), one.key)...); (builder{}).shown(got) != (builder{}).shown(was) {
					t.Errorf("%s: %s came back as %v, was %v", thing.At, one.Name, got, was)
				}
				typed++
			}
		}
		if _, problems := d.Config(); problems.Err() != nil {
			t.Errorf("%v: %v", path, problems.Err())
		}
	}
	if typed < 150 {
		t.Errorf("typed only %d values", typed)
	}
}

// isList reports whether a form is a list.
func isList(f Form) bool { return len(f.Groups) > 0 && strings.HasPrefix(f.Groups[0].Title, "No. ") }

const small = `[house.long-house]
latitude = 50.0
longitude = 10.0

[house.long-house.place.bench]

[house.long-house.place.bench.temperature]
low = 8 # frost
high = 33

[house.long-house.drive.exhaust]
kind = "exhaust-fan"
barred = ["winter"]
runs = { open = "on" }
evidence = [{ probe = "fan-1", quantity = "power", above = 20 }] # the clamp

[probe.bench-1]
place = "long-house/bench"
topic = "bench"
temperature = {}

[house.long-house.place.fan]
[probe.fan-1]
place = "long-house/fan"
topic = "fan"
power = {}
current = { topic = "fan-current" }

[nobody-told]
because = "only tried"
`

// filled fills a form of a text, beginning with what it shows.
func filled(t *testing.T, text, at string, change map[string]string) (*edit.Draft, Filled) {
	t.Helper()
	d := draft(t, text)
	f, there := Of(d, tongue.English, at)
	if !there {
		t.Fatalf("%s has no form", at)
	}
	v := as(f)
	for name, value := range change {
		v[name] = []string{value}
	}
	return d, Fill(d, f, v)
}

func added(o Filled) (plus, minus []string) {
	for _, l := range o.Lines {
		switch l.Move {
		case "+":
			plus = append(plus, l.Text)
		case "-":
			minus = append(minus, l.Text)
		}
	}
	return plus, minus
}

func TestOneValueIsOneLine(t *testing.T) {
	_, out := filled(t, small, "house/long-house/place/bench/temperature", map[string]string{"high": "31,5"})
	plus, minus := added(out)
	if out.Wrong() || !slices.Equal(plus, []string{"high = 31.5"}) || !slices.Equal(minus, []string{"high = 33"}) {
		t.Errorf("+%q -%q %+v", plus, minus, out.Problems)
	}
	d, out := filled(t, small, "house/long-house/place/bench/temperature", map[string]string{"high": "", "day.high": "34", "delay": "2m"})
	if plus, minus = added(out); out.Wrong() || !strings.Contains(d.Text(), "[house.long-house.place.bench.temperature.day]\nhigh = 34\n") || !slices.Contains(minus, "high = 33") {
		t.Errorf("+%q -%q %+v\n%s", plus, minus, out.Problems, d.Text())
	}
}

// What most leave out is folded, unless something of it is given or wrong.
func TestOnlyWhatIsEmptyIsFolded(t *testing.T) {
	folded := func(f Form) (names []string) {
		for _, g := range f.Groups {
			if g.Folded() {
				names = append(names, strings.Fields(g.Title)[len(strings.Fields(g.Title))-2])
			}
		}
		return names
	}
	for _, c := range []struct {
		change map[string]string
		want   []string
	}{
		{nil, []string{"day", "night", "open", "changing", "winter"}},
		{map[string]string{"day.high": "34"}, []string{"night", "open", "changing", "winter"}},
		{map[string]string{"winter.low": "much", "day.high": "34"}, []string{"night", "open", "changing"}},
	} {
		_, out := filled(t, small, "house/long-house/place/bench/temperature", c.change)
		if got := folded(out.Form); !slices.Equal(got, c.want) {
			t.Errorf("with %v %q are folded, want %q", c.change, got, c.want)
		}
	}
	d := draft(t, small)
	if f, _ := Of(d, tongue.English, "house/long-house/control/+"); len(folded(f)) > 0 {
		t.Errorf("of a new thermostat %q are folded, and it needs its stage", folded(f))
	}
}

func TestWhatIsWrongStandsAtItsField(t *testing.T) {
	for _, c := range []struct{ at, field, value, says string }{
		{"house/long-house/place/bench/temperature", "high", "much", "much"},
		{"house/long-house/place/bench/temperature", "high", "7", "low"},
		{"house/long-house/drive/exhaust", "barred", "summer", "summer"},
		{"house/long-house/drive/exhaust", "start-within", "soon", "soon"},
		{"house/long-house/drive/exhaust/evidence", "0.probe", "fan-9", "fan-9"},
	} {
		_, out := filled(t, small, c.at, map[string]string{c.field: c.value})
		wrong := ""
		for _, g := range out.Form.Groups {
			for _, f := range g.Fields {
				if f.Wrong != "" {
					wrong += f.Name + ": " + f.Wrong + "\n"
				}
			}
		}
		if !out.Wrong() || !strings.Contains(wrong, c.says) && !strings.Contains(strings.Join(out.Problems, "\n"), c.says) {
			t.Errorf("%s %s = %s: at its field %q, else %q", c.at, c.field, c.value, wrong, out.Problems)
		}
		if c.value != "7" && !strings.HasPrefix(wrong, c.field+": ") {
			t.Errorf("%s %s = %s: %q stands elsewhere, %q", c.at, c.field, c.value, wrong, out.Problems)
		}
	}
}

// A thermostat with its stage, evidence, a cover with its positions and a person are made
// from nothing, and what the watch reads of them is good.
func TestWhatIsNew(t *testing.T) {
	text := small
	for _, step := range []struct {
		at     string
		change map[string]string
		want   string
	}{
		{"house/long-house/control/+", map[string]string{called: "At the bench", "place": "bench", "stage.+stage0": "Hot", "stage.+stage0.mode": "cooling",
			"stage.+stage0.set-point": "29.5", "stage.+stage0.drives": "exhaust", "stage.+stage0.seasons": "changing"}, "[house.long-house.control.at-the-bench.stage.hot]"},
		{"house/long-house/control/at-the-bench/stage/+", map[string]string{called: "hotter", "mode": "cooling", "set-point": "33", "drives": "exhaust", "seasons": "changing"},
			"[house.long-house.control.at-the-bench.stage.hotter]"},
		{"house/long-house/drive/exhaust/evidence", map[string]string{"1.probe": "fan-1", "1.quantity": "current", "1.above": "40"}, "above = 40"},
		{"house/long-house/drive/+", map[string]string{called: "Warmth", "kind": "circulating-fan", switched: "at-the-bench/hot"}, `[house.long-house.drive.warmth]`},
		{"house/long-house/control/+", map[string]string{called: "damp", "place": "bench", "stage.+stage0": "dry", "stage.+stage0.mode": "heating", "stage.+stage0.set-point": "6",
			"+drive": "Second heater", "+drive.kind": "heater"}, "drives = [\"second-heater\"]"},
		{"house/long-house/selector/+", map[string]string{called: "Winter cover", "position.+position0": "on", "position.+position1": "off",
			"position.+position0.covered": "exhaust", "position.+position0.off": "exhaust", "position.+position1.follow": "exhaust"}, "[house.long-house.selector.winter-cover.position.off]"},
		{"house/long-house/place/bench/exposure/+", map[string]string{called: "scorch", "harm": "leaves scorch", "quantity": "temperature", "above": "36", "for": "2h", "within": "12h"},
			`harm = "leaves scorch"`},
		{"house/long-house/form", map[string]string{"roof": "lean-to", "width": "3.5", "length": "6", "eaves": "1.7", "ridge": "2.8"}, `roof = "lean-to"`},
		{"house/long-house/place/bench", map[string]string{"at.across": "2,6", "at.height": "1"}, "height = 1"},
		{"house/long-house/form/bench", map[string]string{"0.from": "2.3", "0.to": "3.3", "0.height": "0.8"}, "[[house.long-house.form.bench]]"},
		{"house/long-house/place/bench/temperature", map[string]string{remove: "1"}, "[house.long-house"},
		{"house/long-house/place/bench/+", map[string]string{called: "temperature", "high": "28"}, "[house.long-house.place.bench.temperature]\nhigh = 28"},
		{"reminders", map[string]string{"medium": "3h"}, `medium = "3h"`},
	} {
		d, out := filled(t, text, step.at, step.change)
		if out.Wrong() || !strings.Contains(d.Text(), step.want) {
			t.Fatalf("%s: %q\n%+v\n%s", step.at, out.Problems, out.Form, d.Text())
		}
		text = d.Text()
	}
	d, out := filled(t, text, "house/long-house/control/damp", map[string]string{remove: "1"})
	if !out.Wrong() || strings.Contains(d.Text(), "damp") { // its drive is driven by nothing then
		t.Errorf("%q\n%s", out.Problems, d.Text())
	}
	d, out = filled(t, text, "house/long-house/drive/exhaust/evidence", map[string]string{"1.probe": "", "1.quantity": "", "1.above": ""})
	if out.Wrong() || strings.Contains(d.Text(), "above = 40") || !strings.Contains(d.Text(), "# the clamp") {
		t.Errorf("%q\n%s", out.Problems, d.Text())
	}
	if _, out := filled(t, text, "house/long-house/drive/+", map[string]string{"kind": "heater"}); !out.Wrong() {
		t.Error("a drive without a name was taken")
	}
	if _, out := filled(t, text, "house/long-house/place/bench/+", map[string]string{called: "warmth", "high": "28"}); out.Form.Named.Wrong == "" {
		t.Error("limits of what is no quantity were taken")
	}
	if _, out := filled(t, text, "house/long-house/drive/+", map[string]string{called: "Exhaust", "kind": "heater"}); !out.Wrong() {
		t.Error("a second drive of one name was taken")
	}
}

// No form reaches what is outside the garden, whatever address it is asked for by.
func TestNoFormReachesOutside(t *testing.T) {
	text := small + "\n[channel.post]\nkind = \"command\"\nrun = [\"/bin/true\"]\n"
	for _, s := range manual.Sections() {
		if slices.Contains([]string{"house", "probe", "words", "person", "tell", "reminders", "chatter"}, s.Path[0]) {
			continue
		}
		if _, there := Of(draft(t, text), tongue.English, strings.ToLower(strings.Join(s.Path, "/"))); there {
			t.Errorf("%v has a form", s.Path)
		}
	}
	for _, at := range []string{"", "/", "channel/post", "house", "house/long-house/place/", "house/nowhere", "house/nowhere/loop", "house/long-house/drive/nothing",
		"probe/+", "house/nowhere/place/+", "house/+/place/+", "house/long-house/place/bench/at", "page", "tell/0", "house/long-house/control/nothing/stage/+"} {
		if f, there := Of(draft(t, text), tongue.English, at); there {
			t.Errorf("%q has the form %q", at, f.Title)
		}
	}
	b := of(draft(t, small), tongue.English)
	for i := range kinds {
		s, there := b.sectionOf(kinds[i].path, "")
		if !there {
			t.Errorf("the manual does not know %v", kinds[i].path)
		}
		for _, k := range s.Keys {
			if strings.Contains(k.Name, "secret") || strings.Contains(k.Name, "password") || k.Name == "run" || k.Name == "server" || k.Name == "directory" {
				t.Errorf("%v asks for %s", kinds[i].path, k.Name)
			}
		}
	}
}

// Whatever a form says of a key or a table it says in every language, with the same words
// of the config in it; and nothing is in the table of those sentences that no form says.
func TestEveryFormIsInEveryLanguage(t *testing.T) {
	quoted := regexp.MustCompile("`[^`]*`")
	words := func(s string) []string {
		all := quoted.FindAllString(s, -1)
		slices.Sort(all)
		return all
	}
	for _, in := range tongue.Tongues() {
		if in == tongue.English {
			continue
		}
		b, said := of(nil, in), map[string]bool{}
		say := func(sentence string) {
			german := b.said(sentence)
			if sentence == "" || said[sentence] {
				return
			}
			said[sentence] = true
			if !slices.Equal(words(german), words(sentence)) {
				t.Errorf("%s: %q has other words of the config than %q", in.Name(), german, sentence)
			}
		}
		for i := range kinds {
			s, _ := b.section(kinds[i].path)
			if ofKind, there := b.sectionOf(kinds[i].path, kinds[i].kind); there && kinds[i].kind != "" {
				for _, k := range ofKind.Keys {
					if k.Name != "authority-file" && k.Name != "plain-http" {
						say(k.Says)
						say(k.Else)
					}
				}
			}
			for _, s := range append(b.inside(&kinds[i]), s) {
				say(s.Says)
				for _, k := range s.Keys {
					if !barred(k.Name) {
						say(k.Says)
						say(k.Else)
					}
				}
			}
		}
		table, err := os.ReadFile("../../manual/keys." + string(in) + ".md")
		ok(t, err)
		for line := range strings.Lines(string(table)) {
			sentence, _, is := strings.Cut(strings.TrimPrefix(line, "| "), " | ")
			if is && sentence != "Englisch" && !said[sentence] {
				t.Errorf("%s: no form says %q any more", in.Name(), sentence)
			}
			delete(said, sentence)
		}
		for sentence := range said {
			t.Errorf("%s: %q is not in keys.%s.md", in.Name(), sentence, in)
		}
	}
}

// Of each value that a key is chosen of a German form says what it means, but for what is
// called so in German too, or by whoever knows it.
func TestEveryChoiceHasAWord(t *testing.T) {
	same := []string{"webhook", "push", "mqtt", "starttls", "tls", "pdu", "text"}
	english, german, n := of(draft(t, small), tongue.English), of(draft(t, small), tongue.German), 0
	for _, s := range manual.Sections() {
		for _, k := range s.Keys {
			f := english.field(k.Name, []string{"x", "y", "z"}, k, nil)
			if len(f.Choices) == 0 || f.is == yesNo {
				continue
			}
			for _, c := range f.Choices[1:] {
				if n++; c.Words != c.Value {
					t.Errorf("%s: in English %q is %q", k.Name, c.Value, c.Words)
				}
				if got := german.choice(k.Name, c.Value).Words; got == c.Value && !slices.Contains(same, c.Value) {
					t.Errorf("%s: %q has no German word", k.Name, c.Value)
				}
			}
		}
	}
	if n < 40 {
		t.Fatalf("%d choices", n)
	}
}

// A form in German says nothing in English but the names of keys and what is theirs.
func TestAFormInGerman(t *testing.T) {
	d := draft(t, small)
	f, there := Of(d, tongue.German, "house/long-house/drive/exhaust")
	if !there || f.Title != "Antrieb exhaust" || !strings.HasPrefix(f.Caution, "Das ändert, was überwacht wird.") {
		t.Fatalf("%q, %q", f.Title, f.Caution)
	}
	got := map[string]string{}
	for _, g := range f.Groups {
		for _, one := range g.Fields {
			got[one.Name] = one.Label + " | " + one.Hint
			for _, c := range one.Choices {
				got[one.Name] += " | " + c.Value + "=" + c.Words
			}
		}
	}
	for name, want := range map[string]string{
		"start-within": "Wie lange er zum Anlaufen brauchen darf; 1 s bis 2 h (start within) | Leer gelassen: 2m; bei einer Klappe 3m. Etwa 90s.",
		"kind":         got["kind"][:strings.Index(got["kind"], " | =")] + " | =ausgelassen | exhaust-fan=exhaust-fan (Abluftventilator) | intake-shutter=intake-shutter (Zuluftklappe)",
		"barred":       "Jahreszeiten, in denen er nicht laufen darf; keine sagt, dass er in allen darf (barred) | Leer gelassen: keine; bei einem Abluftventilator wird gefragt.",
	} {
		if !strings.HasPrefix(got[name], want) {
			t.Errorf("%s:\ngot  %s\nwant %s", name, got[name], want)
		}
	}
	v := as(f)
	v["barred"] = []string{"keine"}
	if out := Fill(d, f, v); out.Wrong() || !strings.Contains(d.Text(), "barred = []") {
		t.Errorf("%+v\n%s", out.Problems, d.Text())
	}
	f, _ = Of(d, tongue.German, "house/long-house/drive/+")
	if out := Fill(d, f, as(f)); out.Form.Named.Wrong != "Angeben, wie es heißt." {
		t.Errorf("without a name: %q", out.Form.Named.Wrong)
	}
}
