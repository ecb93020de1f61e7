package alarms

import (
	"encoding/json"
	"testing"
)

func TestLimitsAsJSON(t *testing.T) {
	for text, want := range map[string]Limits{
		`{}`:                  {},
		`{"low":7,"high":32}`: {Low: At(7), High: At(32)},
		`{"low":0}`:           {Low: At(0)}, // a limit of 0 is one
		`{"low_low":-2.5,"low":7,"high":32,"high_high":38}`: {At(-2.5), At(7), At(32), At(38)},
	} {
		got, err := json.Marshal(want)
		if err != nil || string(got) != text {
			t.Errorf("%+v is written as %s (%v), want %s", want, got, err, text)
		}
		back := Limits{Low: At(99), High: At(99)}
		if err := json.Unmarshal([]byte(`{"low":null,"high":null}`), &back); err != nil || back != (Limits{}) {
			t.Errorf("null: got %+v, %v", back, err)
		}
		if err := json.Unmarshal([]byte(text), &back); err != nil || back != want {
			t.Errorf("%s is read as %+v (%v), want %+v", text, back, err, want)
		}
	}
	var l Limit
	if err := json.Unmarshal([]byte(`{"Value":7,"Set":true}`), &l); err == nil {
		t.Errorf("an object is read as the limit %+v", l)
	}
	if b, err := json.Marshal(Limit{}); err != nil || string(b) != "null" {
		t.Errorf("an absent limit alone is %s (%v), want null", b, err)
	}
}
