package reach

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

const (
	schemaDir  = "../../testdata/schema"
	schemaBase = "https://example.org/telltale/schema/"
)

// schema compiles one of the published schemas, after checking it against the
// meta-schema of draft 2020-12 (which the library has on board).
func schema(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	for _, file := range []string{"alarm-state.json", "alarm-event.json", "webhook.json"} {
		if err := c.AddResource(schemaBase+file, readJSON(t, file)); err != nil {
			t.Fatal(err)
		}
	}
	s, err := c.Compile(schemaBase + name)
	if err != nil {
		t.Fatal(err)
	}
	if s.DraftVersion != 2020 {
		t.Errorf("%s: draft %d, want 2020-12", name, s.DraftVersion)
	}
	return s
}

func readJSON(t *testing.T, file string) any {
	t.Helper()
	f, err := os.Open(filepath.Join(schemaDir, file))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	doc, err := jsonschema.UnmarshalJSON(f)
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// checkAgainst fails t where body does not fit the schema.
func checkAgainst(t *testing.T, name string, body []byte) {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(body))
	if err != nil {
		t.Errorf("not JSON: %v\n%s", err, body)
		return
	}
	if err := schema(t, name).Validate(doc); err != nil {
		t.Errorf("does not fit %s: %v\n%s", name, err, body)
	}
}

// full is a transition in which every field of the reason is set.
func full() alarms.Transition {
	t := tooHot(alarms.High)
	r := &t.Reason
	r.Probe, r.Circuit, r.Rate, r.Peak = "bench-1", "north-circuit", ptr(3.1), ptr(34)
	r.Lasted, r.Interval, r.Fault, r.Daypart, r.Season = time.Minute, time.Second, alarms.FaultStuck, alarms.Night, alarms.SeasonOpen
	r.Cause, r.Includes, r.Affected = "long-house/silent", []alarms.AlarmID{hot}, []string{"bench-1"}
	r.Quantities = []alarms.Quantity{alarms.Temperature, alarms.Humidity}
	r.Loop = &alarms.LoopReason{What: alarms.NoFlow, Depth: 1.5, Outlet: ptr(24.1), House: ptr(24.6), Ground: ptr(11.2), Stands: true, Water: "saturated",
		Drift: -1.2, Days: 21, Want: "warmth", Gain: 2, Day: &alarms.LoopDay{LoopEnergy: alarms.LoopEnergy{Heat: 1, Run: time.Hour},
			Pipes: []alarms.PipeDay{{Depth: 1.5, LoopEnergy: alarms.LoopEnergy{Cold: 1, Watched: time.Hour}}}}}
	r.Exposure = &alarms.ExposureReason{ID: "fruit-set", Says: "tomato fruit set is failing", Time: time.Hour, Limit: 3 * time.Hour, DegreeHours: 7.5,
		LimitDegreeHours: 15, Window: 48 * time.Hour, Gap: time.Hour, Days: 2, Nights: 1, Running: 1, Unknown: time.Minute, Source: "a book"}
	r.By, r.Note, r.Until = "Ada", "seen", noon.Add(time.Hour)
	return t
}

// TestEveryMoveAndStateFits writes every move, state, level and priority in each
// form and validates it.
func TestEveryMoveAndStateFits(t *testing.T) {
	event, state, hook := schema(t, "alarm-event.json"), schema(t, "alarm-state.json"), schema(t, "webhook.json")
	fits := func(s *jsonschema.Schema, v any) {
		t.Helper()
		if err := s.Validate(plain(t, v)); err != nil {
			t.Errorf("%v\n%+v", err, v)
		}
	}
	for move := alarms.Raise; move <= alarms.Note; move++ {
		for to := alarms.Normal; to <= alarms.OutOfService; to++ {
			tr := with(full(), "7", move, to, to, noon)
			tr.Level, tr.Priority = alarms.Level(to%3), alarms.Priority(to%4)
			e := garden().newEvent(tr)
			fits(event, e)
			fits(state, stateOf(e))
		}
	}
	for _, q := range alarms.Quantities {
		tr := full()
		tr.Reason.Quantity = q
		fits(event, garden().newEvent(tr))
	}
	fits(state, stateInPicture(alarms.AlarmPicture{ID: hot, Transition: "x#1", State: alarms.Acknowledged, Rule: alarms.RuleLimit, Since: noon, Told: "So."}, noon))
	for _, give := range []Telling{TestTelling("Ada", "hook", tongue.English, noon), telling(garden(), "hook", full(), tooHot(alarms.Low))} {
		body, err := document(give)
		if err != nil {
			t.Fatal(err)
		}
		fits(hook, json.RawMessage(body))
	}
}

func plain(t *testing.T, v any) any {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

// TestSchemasRefuse spoils good messages in one place each.
func TestSchemasRefuse(t *testing.T) {
	good := map[string]any{
		"alarm-event.json": garden().newEvent(full()),
		"alarm-state.json": stateOf(garden().newEvent(full())),
	}
	body, err := document(telling(garden(), "hook", full()))
	if err != nil {
		t.Fatal(err)
	}
	good["webhook.json"] = json.RawMessage(body)
	cases := []struct {
		schema string
		spoil  func(map[string]any)
	}{
		{"alarm-event.json", func(m map[string]any) { m["version"] = 2 }},
		{"alarm-event.json", func(m map[string]any) { m["move"] = "explode" }},
		{"alarm-event.json", func(m map[string]any) { m["id"] = "no count" }},
		{"alarm-event.json", func(m map[string]any) { m["due"] = "yesterday" }},
		{"alarm-event.json", func(m map[string]any) { m["extra"] = 1 }},
		{"alarm-event.json", func(m map[string]any) { m["headline"] = "two\nlines" }},
		{"alarm-event.json", func(m map[string]any) { m["test"] = false }},
		{"alarm-event.json", func(m map[string]any) { delete(m, "sentence") }},
		{"alarm-event.json", func(m map[string]any) { m["reason"].(map[string]any)["value"] = "hot" }},
		{"alarm-event.json", func(m map[string]any) { m["reason"].(map[string]any)["quantity"] = "smell" }},
		{"alarm-state.json", func(m map[string]any) { m["state"] = "dead" }},
		{"alarm-state.json", func(m map[string]any) { m["active"] = false }},
		{"alarm-state.json", func(m map[string]any) { m["state"] = "normal" }}, // still active
		{"alarm-state.json", func(m map[string]any) { m["alarm"] = "a/+/b" }},
		{"alarm-state.json", func(m map[string]any) { delete(m, "sentence") }},
		{"alarm-state.json", func(m map[string]any) { delete(m, "at") }},
		{"webhook.json", func(m map[string]any) { m["events"] = []any{} }},
		{"webhook.json", func(m map[string]any) { m["test"] = true }}, // but its event is none
		{"webhook.json", func(m map[string]any) { m["events"].([]any)[0].(map[string]any)["test"] = true }},
		{"webhook.json", func(m map[string]any) { m["events"].([]any)[0].(map[string]any)["to"] = "gone" }},
		{"webhook.json", func(m map[string]any) { delete(m, "id") }},
	}
	for i, c := range cases {
		s, doc := schema(t, c.schema), plain(t, good[c.schema]).(map[string]any)
		if err := s.Validate(doc); err != nil {
			t.Fatalf("case %d: the good message is refused: %v", i, err)
		}
		c.spoil(doc)
		if s.Validate(plain(t, doc)) == nil {
			t.Errorf("case %d: %s accepts %v", i, c.schema, doc)
		}
	}
}

// TestSchemasNameEveryField: a field that is added must be documented, and no
// field is documented that does not exist.
func TestSchemasNameEveryField(t *testing.T) {
	reason := readJSON(t, "alarm-event.json").(map[string]any)["$defs"].(map[string]any)["reason"]
	for _, c := range []struct {
		where  string
		schema any
		form   any
	}{
		{"alarm-event.json", readJSON(t, "alarm-event.json"), Event{}},
		{"alarm-event.json, reason", reason, alarms.Reason{}},
		{"alarm-state.json", readJSON(t, "alarm-state.json"), AlarmState{}},
		{"webhook.json", readJSON(t, "webhook.json"), Document{}},
	} {
		known := c.schema.(map[string]any)["properties"].(map[string]any)
		kind := reflect.TypeOf(c.form)
		for i := range kind.NumField() {
			name, _, _ := strings.Cut(kind.Field(i).Tag.Get("json"), ",")
			if _, ok := known[name]; !ok {
				t.Errorf("%s does not name the field %q of %s", c.where, name, kind)
			}
			delete(known, name)
		}
		for name := range known {
			t.Errorf("%s names %q, which %s does not have", c.where, name, kind)
		}
	}
}
