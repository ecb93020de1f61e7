package reach

import (
	"fmt"
	"strconv"
	"strings"

	"telltale/alarms"
)

// headline is the short form of e, for a subject line: priority, where, what.
// It is no substitute for the sentence.
func headline(e Event, fahrenheit bool) string {
	parts := []string{priorityWord(e.Priority)}
	if where := whereabouts(e); where != "" {
		parts = append(parts, where)
	}
	return oneLine(strings.Join(append(parts, moveWord(e.Move)+fact(e.Reason, e.Move, fahrenheit)), ": "))
}

func priorityWord(p alarms.Priority) string {
	switch p {
	case alarms.High:
		return "High"
	case alarms.Medium:
		return "Medium"
	case alarms.Low:
		return "Low"
	}
	return "Note"
}

func moveWord(m alarms.Move) string {
	switch m {
	case alarms.Worsen:
		return "worse, "
	case alarms.Realarm:
		return "still, "
	case alarms.Chatter:
		return "comes and goes, "
	case alarms.Return:
		return "over, "
	case alarms.Ack:
		return "acknowledged, "
	case alarms.ShelveOn:
		return "shelved, "
	case alarms.Out:
		return "out of service, "
	}
	return ""
}

func whereabouts(e Event) string {
	var parts []string
	if e.HouseName != "" {
		parts = append(parts, e.HouseName)
	}
	switch r := e.Reason; {
	case r.Place != "":
		parts = append(parts, spaced(string(r.Place)))
	case r.Circuit != "":
		parts = append(parts, spaced(string(r.Circuit)))
	}
	if e.Reason.Probe != "" && e.Reason.Rule != alarms.RuleLimit && e.Reason.Rule != alarms.RuleRate {
		parts = append(parts, "probe "+string(e.Reason.Probe))
	}
	return strings.Join(parts, ", ")
}

// fact says in a few words what the alarm is about.
func fact(r alarms.Reason, m alarms.Move, fahrenheit bool) string {
	value := ""
	if r.Value != nil {
		value = ", now " + quantityText(*r.Value, r.Quantity, fahrenheit)
	}
	what := spaced(string(r.Quantity))
	switch r.Rule {
	case alarms.RuleLimit:
		return what + choose(r.Side, " out of its band", " too low", " too high") + value
	case alarms.RuleRate:
		return what + choose(r.Side, " changing fast", " falling fast", " rising fast") + value
	case alarms.RuleFault:
		if r.Fault != "" {
			return "probe needs care (" + spaced(string(r.Fault)) + ")"
		}
		return "probe needs care"
	case alarms.RuleSilent:
		return "nothing heard"
	case alarms.RuleUnwatched:
		return "no healthy probe"
	case alarms.RuleLink:
		return "connection to the broker lost"
	case alarms.RuleRestart:
		return "the watch was restarted"
	case alarms.RulePerson:
		return "changed by a person"
	}
	return spaced(string(r.Rule))
}

func choose(s alarms.Side, none, low, high string) string {
	switch s {
	case alarms.LowSide:
		return low
	case alarms.HighSide:
		return high
	}
	return none
}

// quantityText writes v with its unit; v is in the core's unit.
func quantityText(v float64, q alarms.Quantity, fahrenheit bool) string {
	unit, digits := units(q)
	switch {
	case fahrenheit && unit == "°C":
		v, unit = v*9/5+32, "°F"
	case fahrenheit && unit == "K":
		v, unit = v*9/5, "°F"
	}
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if unit == "" {
		return text
	}
	return fmt.Sprintf("%s %s", text, unit)
}

func units(q alarms.Quantity) (unit string, digits int) {
	switch q {
	case alarms.Temperature, alarms.Surface, alarms.Soil:
		return "°C", 1
	case alarms.DewMargin:
		return "K", 1
	case alarms.Humidity, alarms.Speed, alarms.Battery:
		return "%", 0
	case alarms.VPD:
		return "kPa", 2
	case alarms.Current:
		return "A", 2
	case alarms.Power:
		return "W", 0
	case alarms.Voltage:
		return "V", 2
	case alarms.Signal:
		return "dBm", 0
	case alarms.Pressure:
		return "Pa", 0
	}
	return "", 0
}

func spaced(s string) string { return strings.ReplaceAll(s, "-", " ") }

// oneLine makes s safe for a header: no line breaks or other control characters.
func oneLine(s string) string {
	return strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return ' '
		}
		return c
	}, s)
}
