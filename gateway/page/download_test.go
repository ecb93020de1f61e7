package page

import (
	"compress/gzip"
	"encoding/csv"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms/report"
)

func dayOfReport(y int, m time.Month, d int) report.Span {
	return report.Day(time.Date(y, m, d, 12, 0, 0, 0, time.UTC), time.UTC)
}

func rowsIn(t *testing.T, text string) [][]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// Read back by the standard library: 19 June is summed, 20 June is not.
func TestDownloadWide(t *testing.T) {
	st, _ := reporting(t)
	a, text := st.ask("GET", "/download/file?from=2026-06-19&to=2026-06-20", nil)
	if got := a.Header.Get("Content-Disposition"); got != `attachment; filename="long-house_2026-06-19_2026-06-20.csv"` {
		t.Errorf("it is called %s", got)
	}
	rows := rowsIn(t, text)
	if got := strings.Join(rows[0], "|"); got != `time|kind|Bench, "north" bench-1 temperature [°C]|Bench, "north" bench-1 humidity [%]|Ridge ridge-1 temperature [°C]` {
		t.Errorf("head: %s", got)
	}
	if len(rows) != 1+3*144+144 {
		t.Fatalf("%d rows, want a head, three for each of 144 sums and one for each of 144 readings", len(rows))
	}
	if got := strings.Join(rows[1], "|") + strings.Join(rows[3], "|"); got != "2026-06-19T00:00:00.000Z|lowest of 10 min|19.5|19.5|19.52026-06-19T00:00:00.000Z|highest of 10 min|20.25|20.25|20.25" {
		t.Errorf("a sum: %s", got)
	}
	if got := strings.Join(rows[len(rows)-1], "|"); got != "2026-06-20T23:50:00.000Z|reading|20|20|20" {
		t.Errorf("a reading: %s", got)
	}
}

func TestDownloadLongAndChosen(t *testing.T) {
	st, _ := reporting(t)
	_, text := st.ask("GET", "/download/file?from=2026-06-20&to=2026-06-20&form=long&place=bench&quantity=humidity", nil)
	rows := rowsIn(t, text)
	if len(rows) != 145 || strings.Join(rows[1], "|") != "2026-06-20T00:00:00.000Z|reading|long-house|bench|bench-1|humidity|20|%" {
		t.Errorf("%d rows, the first %q", len(rows), rows[1])
	}
}

// Read back by the library of the format.
func TestDownloadLineProtocolPacked(t *testing.T) {
	st, _ := reporting(t)
	a, text := st.ask("GET", "/download/file?from=2026-06-19&to=2026-06-20&form=line&gz=1&place=ridge", nil)
	if a.Header.Get("Content-Type") != "application/gzip" || !strings.Contains(a.Header.Get("Content-Disposition"), ".lp.gz") {
		t.Errorf("headers: %v", a.Header)
	}
	open, err := gzip.NewReader(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]int{}
	for d := lineprotocol.NewDecoder(open); d.Next(); {
		name, err := d.Measurement()
		if err != nil {
			t.Fatal(err)
		}
		tags := ""
		for {
			k, v, err := d.NextTag()
			if err != nil {
				t.Fatal(err)
			}
			if k == nil {
				break
			}
			tags += string(k) + "=" + string(v) + " "
		}
		if tags != "house=long-house place=ridge probe=ridge-1 " {
			t.Errorf("tags: %s", tags)
		}
		for {
			k, v, err := d.NextField()
			if err != nil {
				t.Fatal(err)
			}
			if k == nil {
				break
			}
			got[string(name)+" "+string(k)+" "+v.String()]++
		}
		at, err := d.Time(lineprotocol.Nanosecond, time.Time{})
		if err != nil || at.Year() != 2026 {
			t.Fatalf("time %v, %v", at, err)
		}
	}
	for _, want := range []string{"reading temperature 20", "reading_10m temperature_lowest 19.5", "reading_10m temperature_mean 20", "reading_10m temperature_highest 20.25"} {
		if got[want] != 144 {
			t.Errorf("%q stands there %d times, want 144: %v", want, got[want], got)
		}
	}
}

func TestDownloadRefuses(t *testing.T) {
	st, _ := reporting(t)
	for path, want := range map[string]string{
		"/download/file?house=hot-house":               "There is no such house.",
		"/download/file?place=moon":                    "No probe measures that there.",
		"/download/file?form=xml":                      "The form must be wide, long or line.",
		"/download/file?from=2020-01-01&to=2026-01-01": "400 days at most",
		"/download/file?from=2026-02-01&to=2026-01-01": "must not be after the last",
		"/download/file?from=soon":                     "must be a day like",
	} {
		a, text := st.ask("GET", path, nil)
		if a.StatusCode/100 != 4 || !strings.Contains(text, want) {
			t.Errorf("%s: status %d, want 4xx with %q", path, a.StatusCode, want)
		}
	}
}

// A history that fails in the middle leaves no file that looks whole; the room
// for the next download is free again.
func TestDownloadThatFailsIsCutOff(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f, Downloads: &fakeDownloads{step: time.Second, err: errTorn}})
	for range mostDownloads + 1 {
		a, err := http.Get(st.base + "/download/file?from=2026-06-20&to=2026-06-20")
		if err != nil { // cut off before anything had left
			continue
		}
		_, err = io.Copy(io.Discard, a.Body)
		a.Body.Close()
		if err == nil {
			t.Fatalf("status %d, and read to the end; want it cut off", a.StatusCode)
		}
	}
}

func TestDownloadSaysHowTheCopiesAre(t *testing.T) {
	f := newFake()
	for _, c := range []struct {
		made  time.Time
		fault string
		want  string
	}{
		{time.Time{}, "", "No copy has been made yet."},
		{noon.Add(-time.Hour), "", "The newest good copy is of 11:02."},
		{noon.AddDate(0, 0, -3), "<full>", "The newest good copy is of Thu 12:02. The last try failed: &lt;full&gt;."},
	} {
		st := start(t, Options{Watch: f, Downloads: &fakeDownloads{step: 10 * time.Minute}, Copies: func() (time.Time, string) { return c.made, c.fault }})
		if _, text := st.ask("GET", "/download", nil); !strings.Contains(text, c.want) || !strings.Contains(text, "Copies of all that is kept") {
			t.Errorf("it does not say %q, but %q", c.want, strings.SplitN(strings.SplitN(text, "Copies of all", 2)[1], "/section", 2)[0])
		}
	}
	st, _ := reporting(t)
	if _, text := st.ask("GET", "/download", nil); strings.Contains(text, "Copies of all that is kept") {
		t.Error("it speaks of copies where none are made")
	}
}
