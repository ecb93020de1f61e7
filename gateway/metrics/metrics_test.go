package metrics

import (
	"flag"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/gateway/modem"
)

var rewrite = flag.Bool("rewrite", false, "write the golden file anew; read the difference before keeping it")

var noon = time.Date(2026, 4, 5, 12, 0, 0, 0, time.UTC)

func num(v float64) *float64 { return &v }

// thimbleGarth is a picture with one of everything that can be shown.
func thimbleGarth() alarms.Picture {
	ago := func(d time.Duration) time.Time { return noon.Add(-d) }
	limits := alarms.Limits{Low: alarms.At(8), High: alarms.At(30)}
	return alarms.Picture{
		At: noon, Link: true, LinkSince: ago(time.Hour), Newest: ago(5 * time.Second),
		Houses: []alarms.HousePicture{
			{ID: "long-house", Season: alarms.SeasonOpen, Drives: someDrives(), Places: []alarms.PlacePicture{
				{ID: "bench",
					Points: []alarms.PointPicture{
						{Quantity: alarms.Temperature, HasValue: true, Value: 31.25, At: ago(5 * time.Second), Live: true, Probe: "bench-1", Limits: limits, Level: alarms.Outer, Side: alarms.HighSide},
						{Quantity: alarms.Humidity, HasValue: true, Value: 63, At: ago(5 * time.Second), Live: true, Probe: "bench-1"},
						{Quantity: alarms.VPD, HasValue: true, Value: 1.25, At: ago(5 * time.Second), Live: true},
						{Quantity: alarms.Battery, HasValue: true, Value: 87, At: ago(5 * time.Second), Live: true, Probe: "bench-1"},
						{Quantity: alarms.Surface, HasValue: false},
					},
					Probes: []alarms.ProbePicture{{ID: "bench-1", Heard: ago(5 * time.Second), Interval: time.Minute, Battery: num(87), Signal: num(-71), Readings: 120, Refused: 2, Garbled: 1}},
					Exposures: []alarms.ExposurePicture{
						{Reached: true, ExposureReason: alarms.ExposureReason{ID: "fruit-set", Time: 3 * time.Hour, Limit: 3 * time.Hour, Unknown: time.Minute}},
						{ExposureReason: alarms.ExposureReason{ID: "heat-load", DegreeHours: 7.5, LimitDegreeHours: 15}}},
					Outlook: expected(ago(time.Minute))},
				{ID: "ridge",
					Points: []alarms.PointPicture{{Quantity: alarms.Temperature, HasValue: true, Value: 24, At: ago(20 * time.Minute), Probe: "ridge-1", Limits: limits}},
					Probes: []alarms.ProbePicture{{ID: "ridge-1", Heard: ago(20 * time.Minute), Interval: time.Minute, Silent: true, Battery: num(12), Faults: []alarms.Fault{alarms.FaultBattery}}}},
			}},
			{ID: "low-house", Season: alarms.SeasonWinter, Loop: &alarms.LoopPicture{Known: true, Running: true, Better: num(2.3),
				Total: alarms.LoopEnergy{Fan: 0.5, Run: 9 * time.Hour}, Pipes: []alarms.PipePicture{
					{Outlet: "upper", Depth: 1.5, Ground: num(11), Effectiveness: num(0.75), Watts: num(-120.5),
						Total: alarms.LoopEnergy{Heat: 2, Cold: 0.25, Watched: time.Hour}},
					{Outlet: "lower", Depth: 2.3}}}, Places: []alarms.PlacePicture{
				{ID: "heap",
					Points: []alarms.PointPicture{
						{Quantity: alarms.Soil, HasValue: true, Value: 18, At: ago(time.Second), Retained: true, Probe: "heap-1"},
						{Quantity: alarms.Pressure, HasValue: true, Value: 101325, At: ago(time.Second), Live: true, Probe: "heap-2"},
						{Quantity: alarms.Speed, HasValue: true, Value: 40, At: ago(time.Second), Live: true, Probe: "heap-2"}},
					Probes: []alarms.ProbePicture{{ID: "heap-1"}, {ID: "heap-2", Heard: ago(time.Second), OutOf: true}}},
			}},
		},
		Alarms: []alarms.AlarmPicture{
			{ID: "long-house/bench/temperature/high", State: alarms.Unacknowledged, Priority: alarms.Medium, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Active: true},
			{ID: "long-house/ridge/ridge-1/silent", State: alarms.Shelved, Priority: alarms.Low, House: "long-house", Place: "ridge"},
			{ID: "long-house/bench/temperature/low", State: alarms.Shelved, Priority: alarms.High, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Active: true},
		},
	}
}

func someCounts() Counts {
	return Counts{
		Link:   &LinkCounts{Received: 1000, Dropped: 1, Flooded: 2, Connects: 3, Queue: 4},
		Decode: &DecodeCounts{Values: 1900, Problems: []ProblemCount{{"bench-1", "syntax", 1}, {"", "unmatched", 2}}, Unclaimed: 7, Emptied: 1},
		Store:  &StoreCounts{Written: 4096, Flushes: 60, Errors: 0, Size: 1 << 20, LastFlush: noon.Add(-time.Second), Copied: true, CopyAge: time.Hour},
		Outbox: &OutboxCounts{Pending: 2, Oldest: noon.Add(-time.Minute), Attempts: []AttemptCounts{{"mail", 5, 2, 1}}},
		Core:   &CoreCounts{Steps: 1960, Transitions: 12, Queue: 0},
		Export: []ExportCounts{{Sink: "file", Lines: 1900}, {Sink: "http", Lines: 1800, Dropped: 10, Failures: 3, Buffered: 512}},
		Modem: &modem.State{Present: true, Ready: true, Signal: new(-73), SentToday: 4, MostPerDay: 50, Sent: 9, Delivered: 8, Undelivered: 1,
			Received: 3, Unreadable: 2, Calls: 1},
	}
}

func newMetrics(t testing.TB, picture func() alarms.Picture, now time.Time) *Metrics {
	t.Helper()
	m, err := New(Options{Picture: picture, Counts: someCounts, Now: func() time.Time { return now }, Version: "1.0.0", Revision: "abc", Log: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// scrapeText fetches the metrics over HTTP, without build information, which
// names the compiler.
func scrapeText(t testing.TB, m *Metrics) string {
	t.Helper()
	server := httptest.NewServer(m.Handler())
	defer server.Close()
	answer, err := http.Get(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("status %d, %v: %s", answer.StatusCode, err, body)
	}
	if ct := answer.Header.Get("Content-Type"); !strings.HasPrefix(ct, "text/plain; version=0.0.4; charset=utf-8") {
		t.Errorf("content type %q, want the text exposition format 0.0.4", ct)
	}
	var kept []string
	for line := range strings.Lines(string(body)) {
		if !strings.HasPrefix(line, "telltale_build_info{") {
			kept = append(kept, line)
		}
	}
	return strings.Join(kept, "")
}

func TestScrapeIsAsInTheGoldenFile(t *testing.T) {
	m := newMetrics(t, thimbleGarth, noon)
	got := scrapeText(t, m)
	if *rewrite {
		if err := os.WriteFile("testdata/scrape.txt", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile("testdata/scrape.txt")
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got:\n%s", got)
	}
	if again := scrapeText(t, m); again != got {
		t.Error("a second scrape of the same picture differs")
	}
}

// The linter of client_golang knows the naming rules of the exposition format.
func TestNamesKeepTheRules(t *testing.T) {
	m := newMetrics(t, thimbleGarth, noon)
	problems, err := testutil.GatherAndLint(m.registry)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range problems {
		t.Errorf("%s: %s", p.Metric, p.Text)
	}
}

// Units by the exposition rules: celsius, ratio 0 to 1, pascals, and lux of the SI.
func TestBaseUnits(t *testing.T) {
	garden := thimbleGarth()
	for q, v := range map[alarms.Quantity]float64{alarms.Moisture: 24, alarms.Fullness: 64, alarms.Light: 41.5} {
		bed := &garden.Houses[1].Places[0]
		bed.Points = append(bed.Points, alarms.PointPicture{Quantity: q, HasValue: true, Value: v, At: noon, Live: true, Probe: "heap-2"})
	}
	m := newMetrics(t, func() alarms.Picture { return garden }, noon)
	if problems, err := testutil.GatherAndLint(m.registry); err != nil || len(problems) > 0 {
		t.Errorf("%v %v", problems, err)
	}
	text := scrapeText(t, m)
	for _, want := range []string{
		`telltale_temperature_celsius{house="long-house",place="bench",probe="bench-1"} 31.25`,
		`telltale_humidity_ratio{house="long-house",place="bench",probe="bench-1"} 0.63`,
		`telltale_vapour_pressure_deficit_pascals{house="long-house",place="bench",probe=""} 1250`,
		`telltale_pressure_pascals{house="low-house",place="heap",probe="heap-2"} 101325`,
		`telltale_speed_ratio{house="low-house",place="heap",probe="heap-2"} 0.4`,
		`telltale_probe_battery_ratio{house="long-house",place="bench",probe="bench-1"} 0.87`,
		`telltale_soil_moisture_ratio{house="low-house",place="heap",probe="heap-2"} 0.24`,
		`telltale_level_ratio{house="low-house",place="heap",probe="heap-2"} 0.64`,
		`telltale_illuminance_lux{house="low-house",place="heap",probe="heap-2"} 41500`,
	} {
		if !strings.Contains(text, want+"\n") {
			t.Errorf("missing: %s", want)
		}
	}
}

func TestOldValuesAreNotShownAsIfTheyWereNow(t *testing.T) {
	text := scrapeText(t, newMetrics(t, thimbleGarth, noon))
	for _, absent := range []string{
		`temperature_celsius{house="long-house",place="ridge"`,                        // silent for 20 minutes
		`telltale_probe_battery_ratio{house="long-house",place="ridge"`,               // of a silent probe
		`soil_temperature_celsius{`,                                                   // only retained
		`reading_age_seconds{house="low-house",place="heap",quantity="soil"`,          // of unknown age
		`reading_beyond_limit{house="long-house",place="ridge",quantity="temperature`, // judged long ago
	} {
		if strings.Contains(text, absent) {
			t.Errorf("shown: %s", absent)
		}
	}
	for _, present := range []string{
		`telltale_reading_age_seconds{house="long-house",place="ridge",probe="ridge-1",quantity="temperature"} 1200`,
		`telltale_reading_live{house="long-house",place="ridge",probe="ridge-1",quantity="temperature"} 0`,
		`telltale_reading_live{house="low-house",place="heap",probe="heap-1",quantity="soil"} 0`,
		`telltale_reading_age_seconds{house="long-house",place="bench",probe="bench-1",quantity="temperature"} 5`,
	} {
		if !strings.Contains(text, present+"\n") {
			t.Errorf("missing: %s", present)
		}
	}
}

// A core that has stopped cannot say that its values are old; the age of the
// picture does.
func TestStalledCoreShowsNoValues(t *testing.T) {
	fresh := scrapeText(t, newMetrics(t, thimbleGarth, noon.Add(stalledAfter-time.Second)))
	if !strings.Contains(fresh, "telltale_temperature_celsius{") {
		t.Error("a picture of 59 s ago still counts")
	}
	text := scrapeText(t, newMetrics(t, thimbleGarth, noon.Add(stalledAfter)))
	for _, absent := range []string{"telltale_temperature_celsius{", "telltale_humidity_ratio{", "telltale_probe_battery_ratio{", `telltale_reading_live{house="long-house",place="bench",probe="bench-1",quantity="temperature"} 1`,
		`telltale_probe_healthy{house="long-house",place="bench",probe="bench-1"} 1`} {
		if strings.Contains(text, absent) {
			t.Errorf("shown: %s", absent)
		}
	}
	if want := `telltale_reading_age_seconds{house="long-house",place="bench",probe="bench-1",quantity="temperature"} 65`; !strings.Contains(text, want) {
		t.Errorf("missing: %s", want)
	}
}

func TestHostileNamesAndNumbersDoNotBreakTheScrape(t *testing.T) {
	p := thimbleGarth()
	p.Houses[0].ID = "a\"b\\c\nd\xff"
	p.Houses[0].Places[0].Points[0].Value = math.NaN()
	text := scrapeText(t, newMetrics(t, func() alarms.Picture { return p }, noon))
	if !strings.Contains(text, `telltale_humidity_ratio{house="a\"b\\c\nd`+"\uFFFD"+`",place="bench",probe="bench-1"} 0.63`) {
		t.Errorf("escaped label is missing:\n%s", text)
	}
	if strings.Contains(text, "NaN") {
		t.Error("NaN is shown")
	}
}

func TestTooManyAlarmsAreCountedNotListed(t *testing.T) {
	p := thimbleGarth()
	p.Alarms = nil
	for i := range maxAlarms + 7 {
		p.Alarms = append(p.Alarms, alarms.AlarmPicture{ID: alarms.AlarmID(fmt.Sprintf("long-house/%d", i)), State: alarms.SuppressedByDesign, Priority: alarms.Low})
	}
	text := scrapeText(t, newMetrics(t, func() alarms.Picture { return p }, noon))
	if n := strings.Count(text, "telltale_alarm_active{"); n != maxAlarms {
		t.Errorf("lists %d alarms, want %d", n, maxAlarms)
	}
	for _, want := range []string{"telltale_alarms_unlisted 7\n", fmt.Sprintf("telltale_alarms{priority=\"low\",state=\"suppressed-by-design\"} %d\n", maxAlarms+7)} {
		if !strings.Contains(text, want) {
			t.Errorf("missing: %s", want)
		}
	}
}

func TestNothingCountedNothingShown(t *testing.T) {
	m, err := New(Options{Picture: func() alarms.Picture { return alarms.Picture{} }, Process: true})
	if err != nil {
		t.Fatal(err)
	}
	text := scrapeText(t, m)
	for _, absent := range []string{"telltale_link_messages", "telltale_store", "telltale_picture_timestamp_seconds "} {
		if strings.Contains(text, absent) {
			t.Errorf("shown: %s", absent)
		}
	}
	for _, present := range []string{"telltale_link_up 0\n", "process_resident_memory_bytes ", "go_goroutines "} {
		if !strings.Contains(text, present) {
			t.Errorf("missing: %s", present)
		}
	}
	if _, err := New(Options{}); err == nil || !strings.Contains(err.Error(), "Picture") {
		t.Errorf("no picture: got %v", err)
	}
}

func TestOpenMetricsWhenAskedFor(t *testing.T) {
	server := httptest.NewServer(newMetrics(t, thimbleGarth, noon).Handler())
	defer server.Close()
	request, _ := http.NewRequest("GET", server.URL, nil)
	request.Header.Set("Accept", "application/openmetrics-text; version=1.0.0")
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, _ := io.ReadAll(answer.Body)
	if !strings.HasPrefix(answer.Header.Get("Content-Type"), "application/openmetrics-text") || !strings.HasSuffix(string(body), "# EOF\n") {
		t.Errorf("got %q, ending %q", answer.Header.Get("Content-Type"), body[max(0, len(body)-20):])
	}
}

// thousand is a picture of 1,000 probes with two points each.
func thousand() alarms.Picture {
	p := alarms.Picture{At: noon, Link: true}
	for h := range 10 {
		house := alarms.HousePicture{ID: alarms.HouseID(fmt.Sprintf("house-%d", h)), Season: alarms.SeasonOpen}
		for i := range 100 {
			id := alarms.ProbeID(fmt.Sprintf("probe-%d-%d", h, i))
			house.Places = append(house.Places, alarms.PlacePicture{ID: alarms.PlaceID(fmt.Sprintf("place-%d", i)),
				Points: []alarms.PointPicture{
					{Quantity: alarms.Temperature, HasValue: true, Value: 20, At: noon, Live: true, Probe: id},
					{Quantity: alarms.Humidity, HasValue: true, Value: 60, At: noon, Live: true, Probe: id}},
				Probes: []alarms.ProbePicture{{ID: id, Heard: noon, Interval: time.Minute}}})
		}
		p.Houses = append(p.Houses, house)
	}
	return p
}

// BenchmarkScrape compares a scrape of 1,000 probes with one of as many bare
// gauges with the same labels, in one run.
func BenchmarkScrape(b *testing.B) {
	p := thousand()
	m := newMetrics(b, func() alarms.Picture { return p }, noon)
	series := 0
	scrape := func(b *testing.B, handler http.Handler) {
		request := httptest.NewRequest("GET", "/metrics", nil)
		b.ReportAllocs()
		for range b.N {
			answer := httptest.NewRecorder()
			handler.ServeHTTP(answer, request)
			series = strings.Count(answer.Body.String(), "\ntelltale_")
		}
		b.ReportMetric(float64(series), "series")
	}
	b.Run("1000-probes", func(b *testing.B) { scrape(b, m.Handler()) })
	registry := prometheus.NewRegistry()
	bare := prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "telltale_bare", Help: "Bare."}, []string{"house", "place", "probe"})
	registry.MustRegister(bare)
	for i := range series {
		bare.WithLabelValues(fmt.Sprintf("house-%d", i%10), fmt.Sprintf("place-%d", i/10%100), fmt.Sprintf("probe-%d", i)).Set(float64(i))
	}
	b.Run("as-many-bare-gauges", func(b *testing.B) {
		scrape(b, promhttp.HandlerFor(registry, promhttp.HandlerOpts{}))
	})
}
