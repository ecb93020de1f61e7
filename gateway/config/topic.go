package config

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"telltale/alarms"
)

// ownTopics lie below this; the watch alone writes them.
const ownTopics = "telltale/"

// filter reads an MQTT topic filter.
func (t *table) filter(key string) value[string] {
	return read(t, key, func(raw any) (string, string) {
		s, ok := raw.(string)
		if !ok {
			return "", fmt.Sprintf("must be text in quotes (got %s)", got(raw))
		}
		if wrong := badFilter(s); wrong != "" {
			return "", fmt.Sprintf("%s (got %q)", wrong, s)
		}
		return s, ""
	})
}

// badFilter returns why f is no topic filter after MQTT 3.1.1, section 4.7.
func badFilter(f string) string {
	switch {
	case f == "":
		return "must not be empty"
	case len(f) > 65535 || !utf8.ValidString(f) || strings.ContainsRune(f, 0):
		return "must be UTF-8 text of at most 65535 bytes without a zero character"
	case strings.HasPrefix(f, "$share/"):
		return "must not be a shared subscription: MQTT 3.1.1 has none"
	case strings.HasPrefix(f, ownTopics):
		return "must not lie below \"telltale/\": the watch writes there itself"
	}
	levels := strings.Split(f, "/")
	for i, l := range levels {
		switch {
		case l == "#" && i < len(levels)-1:
			return "must have # as its last level only"
		case l != "#" && strings.Contains(l, "#"):
			return "must have # alone in its level"
		case l != "+" && strings.Contains(l, "+"):
			return "must have + alone in its level"
		}
	}
	return ""
}

// overlap reports whether some topic matches both filters.
func overlap(a, b string) bool {
	wild := func(s string) bool { return strings.HasPrefix(s, "+") || strings.HasPrefix(s, "#") }
	if strings.HasPrefix(a, "$") && wild(b) || strings.HasPrefix(b, "$") && wild(a) {
		return false
	}
	return overlapLevels(strings.Split(a, "/"), strings.Split(b, "/"))
}

func overlapLevels(a, b []string) bool {
	for {
		switch {
		case len(a) > 0 && a[0] == "#", len(b) > 0 && b[0] == "#":
			return true // # also stands for no further level at all
		case len(a) == 0 || len(b) == 0:
			return len(a) == len(b)
		case a[0] != "+" && b[0] != "+" && a[0] != b[0]:
			return false
		}
		a, b = a[1:], b[1:]
	}
}

// from reads where in the payload a value stands.
func (t *table) from(form string) value[string] {
	return read(t, "from", func(raw any) (string, string) {
		s, ok := raw.(string)
		if !ok {
			return "", fmt.Sprintf("must be text in quotes (got %s)", got(raw))
		}
		switch form {
		case "number":
			return "", fmt.Sprintf("must be left out: a plain number is the whole payload (got %q)", s)
		case "json":
			return s, badPointer(s)
		case "senml":
			return s, badSenMLName(s)
		}
		if strings.TrimSpace(s) == "" {
			return "", "must be the name of a field"
		}
		return s, ""
	})
}

// badPointer returns why s is no JSON pointer after RFC 6901.
func badPointer(s string) string {
	if s != "" && s[0] != '/' {
		return fmt.Sprintf("must be a JSON pointer (RFC 6901): empty, or starting with a slash, such as \"/air/temperature\" (got %q)", s)
	}
	for i := 0; i < len(s); i++ {
		if s[i] == '~' && (i+1 == len(s) || s[i+1] != '0' && s[i+1] != '1') {
			return fmt.Sprintf("must write ~ as ~0 and / as ~1 inside a part of a JSON pointer, RFC 6901 (got %q)", s)
		}
	}
	return ""
}

// badSenMLName returns why s is no resolved name after RFC 8428, section 4.5.1.
func badSenMLName(s string) string {
	const letters = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
	if s == "" || !strings.ContainsRune(letters, rune(s[0])) || strings.Trim(s, letters+"-:./_") != "" {
		return fmt.Sprintf("must be a SenML name (RFC 8428): base name and name joined, of letters, digits and - : . / _, starting with a letter or digit (got %q)", s)
	}
	return ""
}

// unitNames are the units in which q may be sent, with their spellings.
func unitNames(q alarms.Quantity) []string {
	share := []string{"%", "percent", "ratio", "/", "1"}
	switch q {
	case alarms.Temperature, alarms.Surface, alarms.Soil:
		return []string{"°C", "ºC", "C", "degC", "Cel", "celsius", "°F", "ºF", "F", "degF", "fahrenheit", "K", "kelvin"}
	case alarms.Humidity:
		return append(share, "%RH")
	case alarms.Speed, alarms.Opening:
		return share
	case alarms.Battery:
		return append(share, "%EL")
	case alarms.Current:
		return []string{"A", "mA"}
	case alarms.Power:
		return []string{"W", "kW"}
	case alarms.Voltage:
		return []string{"V", "mV"}
	case alarms.Signal:
		return []string{"dBm", "dBW"}
	case alarms.Pressure:
		return []string{"Pa", "hPa", "mbar", "kPa", "inHg"}
	}
	return nil
}

// plainUnits leaves out further spellings.
func plainUnits(names []string) []string {
	also := []string{"ºC", "C", "degC", "Cel", "celsius", "ºF", "F", "degF", "fahrenheit", "kelvin",
		"percent", "/", "1", "%RH", "%EL", "mbar"}
	return slices.DeleteFunc(slices.Clone(names), func(n string) bool { return slices.Contains(also, n) })
}
