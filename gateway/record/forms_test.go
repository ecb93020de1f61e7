package record

import (
	"bytes"
	"compress/gzip"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
)

// The same two rows in every way in which they are met.
func TestFormsOfTables(t *testing.T) {
	rows := []string{"2026-04-13 14:07:00 bench=21.5 ridge=24", "2026-04-13 14:12:00 bench=21.25 ridge=24.5"}
	for name, text := range map[string]string{
		"ISO 8601":             "when,bench,ridge\n2026-04-13 14:07,21.5,24\n2026-04-13 14:12,21.25,24.5\n",
		"with seconds and T":   "when,bench,ridge\n2026-04-13T14:07:00,21.5,24\n2026-04-13T14:12:00,21.25,24.5",
		"with a zone":          "when,bench,ridge\n2026-04-13T16:07:00+02:00,21.5,24\n2026-04-13T14:12:00.000Z,21.25,24.5\n",
		"zone without a colon": "when,bench,ridge\n2026-04-13 10:07:00 -0400,21.5,24\n2026-04-13 10:12:00 -0400,21.25,24.5\n",
		"compact":              "when,bench,ridge\n20260413T1407,21.5,24\n20260413T141200Z,21.25,24.5\n",
		"month/day/year":       "Date,bench,ridge\n4/13/2026 14:07,21.5,24\n4/13/2026 14:12,21.25,24.5\n",
		"year of two digits":   "Date,bench,ridge\n04/13/26 14:07,21.5,24\n04/13/26 14:12,21.25,24.5\n",
		"12-hour clock":        "Date,bench,ridge\n4/13/2026 2:07 PM,21.5,24\n4/13/2026 2:12:00 p.m.,21.25,24.5\n",
		"day.month.year":       "Datum;bench;ridge\n13.04.2026 14:07;21,5;24\n13.04.2026 14:12;21,25;24,5\n",
		"day/month/year":       "Date,bench,ridge\n13/04/2026 14:07,21.5,24\n13/04/2026 14:12,21.25,24.5\n",
		"month by its name":    "Date,bench,ridge\n\"Apr 13, 2026 14:07\",21.5,24\n13-Apr-2026 14:12,21.25,24.5\n",
		"seconds since 1970":   "time,bench,ridge\n1776089220,21.5,24\n1776089520,21.25,24.5\n",
		"milliseconds":         "time,bench,ridge\n1776089220000,21.5,24\n1776089520000,21.25,24.5\n",
		"days of spreadsheets": "time,bench,ridge\n46125.5881944444,21.5,24\n46125.5916666667,21.25,24.5\n",
		"two columns":          "Date,Time,bench,ridge\n2026-04-13,14:07,21.5,24\n2026-04-13,14:12:00,21.25,24.5\n",
		"two columns, date 0h": "Date,Time,bench,ridge\n4/13/2026 0:00,2:07 PM,21.5,24\n4/13/2026 0:00,2:12 PM,21.25,24.5\n",
		"tabs":                 "when\tbench\tridge\n2026-04-13 14:07\t21,5\t24\n2026-04-13 14:12\t21,25\t24,5\n",
		"semicolons, points":   "when;bench;ridge\n2026-04-13 14:07;21.5;24\n2026-04-13 14:12;21.25;24.5\n",
		"mark and CRLF":        "\xef\xbb\xbfwhen,bench,ridge\r\n2026-04-13 14:07,21.5,24\r\n2026-04-13 14:12,21.25,24.5\r\n",
		"old line ends":        "when,bench,ridge\r2026-04-13 14:07,21.5,24\r2026-04-13 14:12,21.25,24.5\r",
		"lines above":          "Logger 7 of Long House\nserial,1234\n\n# exported\nwhen,bench,ridge\n2026-04-13 14:07,21.5,24\n2026-04-13 14:12,21.25,24.5\n",
		"commented header":     "# when,bench,ridge\n2026-04-13 14:07,21.5,24\n2026-04-13 14:12,21.25,24.5\n",
		"quotes":               "\"when\",\"bench\",\"ridge\"\n\"2026-04-13 14:07\",\"21.5\",\"24\"\n\"2026-04-13 14:12\",\"21.25\",\"24.5\"\n",
		"time in the middle":   "bench,when,ridge\n21.5,2026-04-13 14:07,24\n21.25,2026-04-13 14:12,24.5\n",
		"header again":         "when,bench,ridge\n2026-04-13 14:07,21.5,24\nwhen,bench,ridge\n2026-04-13 14:12,21.25,24.5\n,,\n",
		"24 o'clock":           "when,bench,ridge\n2026-04-13 14:07,21.5,24\n2026-04-13 14:12,21.25,24.5\n2026-04-12 24:00,NA,null\n",
		"zero bytes":           "when,bench,ridge\n\x00\x00\x002026-04-13 14:07,21.5,24\n\x00\x00\n2026-04-13 14:12,21.25,24.5\n",
	} {
		t.Run(name, func(t *testing.T) {
			table := mustOpen(t, text, Options{})
			same(t, got(t, table), rows)
			if all := table.Faults.All(); len(all) > 0 {
				t.Errorf("faults: %v", all)
			}
		})
	}
}

func TestEncodingsOfTables(t *testing.T) {
	text := "when;bench;ridge é\n2026-04-13 14:07;21,5;24\n2026-04-13 14:12;21,25;24,5\n"
	want := []string{"2026-04-13 14:07:00 bench=21.5 ridge é=24", "2026-04-13 14:12:00 bench=21.25 ridge é=24.5"}
	encode := func(mark string, little bool) string {
		var b strings.Builder
		b.WriteString(mark)
		for _, c := range utf16.Encode([]rune(text)) {
			if little {
				b.Write([]byte{byte(c), byte(c >> 8)})
			} else {
				b.Write([]byte{byte(c >> 8), byte(c)})
			}
		}
		return b.String()
	}
	pack := func(s string) string {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = z.Write([]byte(s))
		_ = z.Close()
		return b.String()
	}
	for name, in := range map[string]string{
		"UTF-16 little, mark": encode("\xff\xfe", true), "UTF-16 big, mark": encode("\xfe\xff", false),
		"UTF-16 little": encode("", true), "UTF-16 big": encode("", false),
		"gzip": pack(text), "gzip of UTF-16": pack(encode("\xff\xfe", true)), "UTF-8 mark in gzip": pack("\xef\xbb\xbf" + text),
	} {
		t.Run(name, func(t *testing.T) { same(t, got(t, mustOpen(t, in, Options{})), want) })
	}
}

func TestHeaderInTwoLines(t *testing.T) {
	table := mustOpen(t, "Logger 7\nTIMESTAMP,AirT,RH\nTS,Deg C,%\n2026-04-13 14:07,21.5,63\n2026-04-13 14:12,21.5,64\n", Options{})
	same(t, got(t, table), []string{"2026-04-13 14:07:00 AirT (Deg C)=21.5 RH (%)=63", "2026-04-13 14:12:00 AirT (Deg C)=21.5 RH (%)=64"})
}

func TestNoHeader(t *testing.T) {
	table := mustOpen(t, "2026-04-13 14:07,21.5,63\n2026-04-13 14:12,21.5,64\n", Options{})
	same(t, got(t, table), []string{"2026-04-13 14:07:00 2=21.5 3=63", "2026-04-13 14:12:00 2=21.5 3=64"})
	if table.Headed {
		t.Error("it has no header")
	}
}

func TestLongTables(t *testing.T) {
	want := []string{"2026-04-13 14:07:00 bench-1 temperature=21.5", "2026-04-13 14:07:00 bench-1 humidity=63", "2026-04-13 14:07:00 ridge-1 temperature=24",
		"2026-04-13 14:12:00 bench-1 temperature=21.25", "2026-04-13 14:12:00 bench-1 humidity=64", "2026-04-13 14:12:00 ridge-1 temperature=24.5"}
	byTime := "time,sensor,quantity,value\n2026-04-13 14:07,bench-1,temperature,21.5\n2026-04-13 14:07,bench-1,humidity,63\n2026-04-13 14:07,ridge-1,temperature,24\n" +
		"2026-04-13 14:12,bench-1,temperature,21.25\n2026-04-13 14:12,bench-1,humidity,64\n2026-04-13 14:12,ridge-1,temperature,24.5\n"
	byProbe := "time,sensor,quantity,value\n2026-04-13 14:07,bench-1,temperature,21.5\n2026-04-13 14:12,bench-1,temperature,21.25\n" +
		"2026-04-13 14:07,bench-1,humidity,63\n2026-04-13 14:12,bench-1,humidity,64\n2026-04-13 14:07,ridge-1,temperature,24\n2026-04-13 14:12,ridge-1,temperature,24.5\n"
	same(t, got(t, mustOpen(t, byTime, Options{})), want)
	same(t, got(t, mustOpen(t, byProbe, Options{})), want)
	half := mustOpen(t, "time,probe,temperature,humidity\n2026-04-13 14:07,a,21,63\n2026-04-13 14:07,b,24,\n2026-04-13 14:12,a,22,64\n2026-04-13 14:12,b,25,-\n", Options{})
	same(t, got(t, half), []string{"2026-04-13 14:07:00 a temperature=21 a humidity=63", "2026-04-13 14:07:00 b temperature=24",
		"2026-04-13 14:12:00 a temperature=22 a humidity=64", "2026-04-13 14:12:00 b temperature=25"})
}

// A note or a state beside the readings names no probe.
func TestNotesNameNothing(t *testing.T) {
	text := "time,temp,state\n"
	for i := range 30 {
		text += time.Date(2026, 4, 13, 14, i, 0, 0, time.UTC).Format("2006-01-02 15:04") + ",21.5," + []string{"ok", "low"}[i%2] + "\n"
	}
	if table := mustOpen(t, text, Options{}); len(table.Series) != 2 {
		t.Errorf("got %d series, want temp and state", len(table.Series))
	}
}

func TestMarksOfMissingValues(t *testing.T) {
	text := "time,t\n2026-04-13 00:00,21.5\n"
	marks := []string{"", "-", "--", "NA", "n/a", "NaN", "null", "NULL", "None", "empty", "-9999", "-9999.0", "-999", "-999.9", "#N/A", "?", `""`}
	for i, m := range marks {
		text += time.Date(2026, 4, 13, 1, i, 0, 0, time.UTC).Format("2006-01-02 15:04") + "," + m + "\n"
	}
	table := mustOpen(t, text, Options{})
	if s := table.Series[0]; s.Count != 1 || len(table.Faults.All()) != 0 {
		t.Errorf("got %+v, %v", s, table.Faults.All())
	}
	same(t, got(t, table), []string{"2026-04-13 00:00:00 t=21.5"})
	for _, value := range []string{"-9", "0", "-99.5", "999", "-0", "85", "-127"} {
		if isMissing([]byte(value)) {
			t.Errorf("%s is a value", value)
		}
	}
}
