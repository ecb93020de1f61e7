package say

import (
	"testing"

	"telltale/alarms"
)

// Every quantity has words of its own, and none twice.
func TestEveryQuantityHasWords(t *testing.T) {
	said := map[string]alarms.Quantity{}
	for _, q := range alarms.Quantities {
		rows := 0
		for _, w := range wordings {
			if w.quantity == q {
				rows++
			}
		}
		if rows != 1 {
			t.Errorf("%s has %d rows of words, want one", q, rows)
		}
		if other, ok := said[Locale{}.Word(q)]; ok {
			t.Errorf("%s is called %q, as %s is", q, Locale{}.Word(q), other)
		}
		said[Locale{}.Word(q)] = q
	}
	if len(wordings) != len(alarms.Quantities) {
		t.Errorf("there are words for %d quantities, and %d quantities", len(wordings), len(alarms.Quantities))
	}
}

func TestMoistureLevelAndLightInWords(t *testing.T) {
	for _, tt := range []struct{ got, want string }{
		{Locale{}.Amiss(alarms.Moisture, alarms.LowSide, alarms.Outer), "soil too dry"},
		{Locale{}.Amiss(alarms.Moisture, alarms.HighSide, alarms.Inner), "soil far too wet"},
		{Locale{}.Amiss(alarms.Fullness, alarms.LowSide, alarms.Inner), "level far too low"},
		{Locale{}.Amiss(alarms.Light, alarms.HighSide, alarms.Inner), "far too bright"},
		{Locale{}.AmissFast(alarms.Fullness, alarms.LowSide), "level falling fast"},
		{Locale{}.Value(alarms.Moisture, 23.46), "23 %"},
		{Locale{}.Value(alarms.Fullness, 7), "7 %"},
		{Locale{Decimal: ","}.Value(alarms.Light, 41.52), "41,5 klx"},
		{Locale{Fahrenheit: true}.Distance(alarms.Light, 3), "3.0 klx"},
		{Locale{}.Course(alarms.Moisture, -0.8), "steady"},
		{Locale{}.Course(alarms.Fullness, -12), "falling 12 % an hour"},
	} {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}
