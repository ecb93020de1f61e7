package decode

import (
	"fmt"
	"strings"
	"testing"

	"telltale/alarms"
)

func TestWeighColumns(t *testing.T) {
	series := func(lo, hi float64) (out []string) {
		for i := range 200 {
			out = append(out, fmt.Sprintf("%.1f", lo+(hi-lo)*float64(i)/199))
		}
		return out
	}
	spoilt := append(series(60, 95), "1850.0", "-459", "185")
	for _, tt := range []struct {
		header  string
		cells   []string
		degrees string
		want    string // quantity and unit; empty: not proposed
		says    string
	}{
		{"Temp", series(18, 34), "", "temperature °C", "usual in °C"},
		{"Temp", series(45, 99), "", "temperature °F", "in °C no house would be"},
		{"Temp", spoilt, "", "temperature °F", ""},
		{"Temp", series(36, 50), "", "temperature °F", ""}, // a cold house all winter
		{"Temp", series(28, 52), "", "", askDegrees},
		{"Temp", series(28, 52), "°F", "temperature °F", "the others are in °F too"},
		{"Outdoor Temp", series(15, 28), "°F", "temperature °F", ""},
		{"Temp (°F)", series(20, 28), "", "temperature °F", "Its header states its unit, °F."},
		{"Temp [deg C]", series(45, 60), "", "temperature degC", "Its header states its unit"},
		{"temp_f", series(60, 80), "", "temperature °F", "in °F"},
		{"inside_c", series(18, 34), "", "temperature ", "in °C"},
		{"airTemperature", series(280.5, 300.1), "", "temperature K", "kelvin"},
		{"Avg Temp", series(18, 30), "", "temperature °C", ""},
		{"Max Temp", series(18, 30), "", "", "summed up"},
		{"Soil Temp", series(12, 18), "", "soil °C", ""},
		{"Luftfeuchte", series(40, 99), "", "humidity ", ""},
		{"RH (%)", series(40, 99), "", "humidity ", "Its header states its unit, %."},
		{"rh", []string{"0.41", "0.55", "0.93"}, "", "humidity ratio", "ratio"},
		{"Shutter Position (%)", series(0, 100), "", "", "but not of what"},
		{"Light", series(0, 900), "", "light lx", "Is it sent in lux?"},
		{"Illuminance (lx)", series(0, 90000), "", "light lx", "Its header states its unit, lx."},
		{"Light (W/m2)", series(0, 900), "", "", "W/m2"},
		{"bed_vwc", []string{"0.21", "0.225", "0.34"}, "", "soil-moisture ratio", "ratio"},
		{"Water level", series(20, 80), "", "level ", "usual for that"},
		{"Light level", series(400, 9000), "", "light lx", ""},
		{"Battery level", series(40, 90), "", "battery ", ""},
		{"Setpoint Temp", series(18, 20), "", "", "what is wanted"},
		{"note", []string{"door open", "watered"}, "", "", "no number"},
		{"when", nil, "", "", "no number"},
	} {
		s := Weigh(tt.header, tt.cells, tt.degrees)
		got := ""
		if s.Use >= 0 {
			r := s.Choices[s.Use].Read
			got = string(r.Quantity) + " " + r.Unit
		}
		if want := strings.Replace(tt.want, "degC", "", 1); strings.TrimSuffix(strings.TrimSpace(got), " °C") != strings.TrimSuffix(strings.TrimSpace(want), " °C") ||
			!strings.Contains(s.Why+" "+s.Ask, tt.says) {
			t.Errorf("%s %v: got %q, %q %q; want %q, %q", tt.header, tt.degrees, got, s.Why, s.Ask, tt.want, tt.says)
		}
	}
}

func TestCellsReadInTheirUnit(t *testing.T) {
	c, err := NewCells("column", Read{Quantity: alarms.Temperature, Unit: "°F"})
	if err != nil {
		t.Fatal(err)
	}
	if v, cause, _ := c.Value([]byte("50")); v != 10 || cause != "" {
		t.Errorf("got %v %v", v, cause)
	}
	for text, want := range map[string]Cause{"M1": NotNumber, "21,5": Comma, "inf": NotFinite, "21 °C": BadUnit} {
		if _, cause, detail := c.Value([]byte(text)); cause != want || detail == "" {
			t.Errorf("%s: got %v %q, want %v", text, cause, detail, want)
		}
	}
	if _, err := NewCells("column", Read{Quantity: alarms.Humidity, Unit: "°F"}); err == nil || !strings.Contains(err.Error(), "must be a unit of humidity: %, ratio") {
		t.Errorf("got %v", err)
	}
}
