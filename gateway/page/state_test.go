package page

import (
	"encoding/json"
	"reflect"
	"regexp"
	"testing"

	"telltale/alarms"
)

var fieldName = regexp.MustCompile(`^[a-z][a-z0-9_]*$`)

// badNames lists the keys of v, at any depth, that are written otherwise than
// the rest.
func badNames(v any) []string {
	var bad []string
	switch v := v.(type) {
	case map[string]any:
		for k, inner := range v {
			if !fieldName.MatchString(k) {
				bad = append(bad, k)
			}
			bad = append(bad, badNames(inner)...)
		}
	case []any:
		for _, inner := range v {
			bad = append(bad, badNames(inner)...)
		}
	}
	return bad
}

func TestStateForPrograms(t *testing.T) {
	st := start(t, Options{Watch: newFake()})
	_, text := st.get("/state.json")
	wantAll(t, text, `"limits":{"low_low":8,"low":12,"high":32,"high_high":38}`, `"limits":{"high":85}`, `"limits":{}`)
	var all any
	if err := json.Unmarshal([]byte(text), &all); err != nil {
		t.Fatal(err)
	}
	if bad := badNames(all); len(bad) > 0 {
		t.Errorf("keys that are not written like_this: %q", bad)
	}
	var back alarms.Picture
	if err := json.Unmarshal([]byte(text), &back); err != nil {
		t.Fatal(err)
	}
	if want := scene(noon); !reflect.DeepEqual(back, want) {
		t.Errorf("read again it is\n%+v\nwant\n%+v", back, want)
	}
}
