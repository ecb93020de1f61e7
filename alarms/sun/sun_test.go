package sun

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

// reference is sun.csv: made with astronomy-engine 2.1.19 (MIT) and checked
// against suncalc 2.0.2 (BSD), which agree within 11 s.
func reference(t *testing.T) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/reference/sun.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = r[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// sameTime fails unless got is within tolerance of want, an RFC 3339 time or
// nothing.
func sameTime(t *testing.T, what string, got time.Time, want string, tolerance time.Duration) {
	t.Helper()
	if want == "" {
		if !got.IsZero() {
			t.Errorf("%s: got %s, want none", what, got)
		}
		return
	}
	at, err := time.Parse(time.RFC3339, want)
	if err != nil {
		t.Fatal(err)
	}
	if off := got.Sub(at).Abs(); off > tolerance {
		t.Errorf("%s: got %s, want %s within %s", what, got.Format(time.RFC3339), want, tolerance)
	}
}

// kind says whether the sun rises or sets on a day.
type kind string

// Kinds of day, as the reference has them.
const (
	ordinary   kind = "normal"      // it rises or sets or both
	polarDay   kind = "polar_day"   // it is up all day
	polarNight kind = "polar_night" // it is down all day
)

// times are what the sun does on one day.
type times struct {
	kind kind
	rise time.Time // first second of day; zero if it does not rise on this day
	noon time.Time // when it crosses the meridian
	set  time.Time // first second of night; zero if it does not set on this day
}

// dayAt returns sunrise, solar noon and sunset of the calendar day that date
// names in its own zone. That day is taken as the 24 h from one local mean
// midnight to the next, so that noon lies in its middle whatever the clocks
// do; rise or set may then have the date before or after in UTC.
func dayAt(lat, lon float64, date time.Time) times {
	y, m, d := date.Date()
	start := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() - int64(math.Round(lon*240))
	end := start + 86400
	t := times{noon: time.Unix(culmination(lon, start+43200, 0), 0).UTC()}
	up := isDay(lat, lon, start)
	if up {
		t.kind = polarDay
	} else {
		t.kind = polarNight
	}
	for s := start; ; {
		next, ok := nextChange(lat, lon, s, end)
		if !ok {
			return t
		}
		s, up, t.kind = next, !up, ordinary
		switch at := time.Unix(next, 0).UTC(); {
		case up && t.rise.IsZero():
			t.rise = at
		case !up && t.set.IsZero():
			t.set = at
		}
	}
}

func TestAgainstReference(t *testing.T) {
	rows := reference(t)
	if len(rows) != 60 {
		t.Fatalf("got %d rows, want 60", len(rows))
	}
	for _, row := range rows {
		lat, lon := num(t, row["lat_deg"]), num(t, row["lon_deg"])
		date, err := time.Parse(time.DateOnly, row["local_mean_date"])
		if err != nil {
			t.Fatal(err)
		}
		what := row["place"] + " " + row["local_mean_date"]
		tolerance := 15 * time.Second // promised: 2 min up to 60° of latitude
		if lat > 60 {
			tolerance = 2 * time.Minute
		}
		day := dayAt(lat, lon, date)
		if day.kind != kind(row["state"]) {
			t.Errorf("%s: got %s, want %s", what, day.kind, row["state"])
		}
		sameTime(t, what+" rise", day.rise, row["sunrise_utc"], tolerance)
		sameTime(t, what+" noon", day.noon, row["solar_noon_utc"], 15*time.Second)
		sameTime(t, what+" set", day.set, row["sunset_utc"], tolerance)
		for hour, column := range map[int]string{0: "elev_00utc_deg", 6: "elev_06utc_deg", 12: "elev_12utc_deg", 18: "elev_18utc_deg"} {
			got := At(lat, lon, date.Add(time.Duration(hour)*time.Hour)).Elevation
			if want := num(t, row[column]); math.Abs(got-want) > 0.02 {
				t.Errorf("%s %s: got %.3f, want %.3f", what, column, got, want)
			}
		}
		if got, want := At(lat, lon, day.noon).Elevation, num(t, row["noon_elev_geometric_deg"]); math.Abs(got-want) > 0.02 {
			t.Errorf("%s noon elevation: got %.3f, want %.3f", what, got, want)
		}
	}
}

// The worked example of Reda & Andreas, Solar Position Algorithm,
// NREL/TP-560-34302. The report's own sunset belongs to the universal day, the
// evening before; the evening of the local day is 17:18:51.
func TestNRELExample(t *testing.T) {
	zone := time.FixedZone("", -7*3600)
	at := time.Date(2003, 10, 17, 12, 30, 30, 0, zone)
	p := At(39.742476, -105.1786, at)
	if math.Abs(p.Elevation-39.872046) > 0.02 || math.Abs(p.Azimuth-194.340241) > 0.02 {
		t.Errorf("got elevation %.4f azimuth %.4f, want 39.8720 and 194.3402", p.Elevation, p.Azimuth)
	}
	if math.Abs(p.Distance-0.9965) > 0.0005 { // the report's radius vector, 0.9965422974
		t.Errorf("got distance %.5f, want 0.9965", p.Distance)
	}
	day := dayAt(39.742476, -105.1786, at)
	sameTime(t, "rise", day.rise, "2003-10-17T06:12:43-07:00", 15*time.Second)
	sameTime(t, "noon", day.noon, "2003-10-17T11:46:05-07:00", 15*time.Second)
	sameTime(t, "set", day.set, "2003-10-17T17:18:51-07:00", 15*time.Second)
	before := dayAt(39.742476, -105.1786, at.AddDate(0, 0, -1))
	sameTime(t, "set of the universal day", before.set, "2003-10-16T17:20:19-07:00", 15*time.Second)
}

// Meeus, Astronomical Algorithms, example 25.a: the sun at 1992-10-13 0h TD
// has right ascension 198.38083° and declination -7.78507°.
func TestMeeusExample(t *testing.T) {
	s := sunAt((2448908.5 - 2451545) / 36525)
	if math.Abs(circle(s.ascension)-198.38083) > 1e-4 || math.Abs(s.declination+7.78507) > 1e-4 {
		t.Errorf("got %.5f %.5f, want 198.38083 -7.78507", circle(s.ascension), s.declination)
	}
}

// Around every change IsDay is one thing before and another from then on, and
// nothing changes between two changes.
func TestChangesAgreeWithIsDay(t *testing.T) {
	for _, lat := range []float64{0, 35, -52, 60, 65.7, 67.4, -78, 84, 89.5, -89.99, 90} {
		at := time.Date(2026, 1, 3, 4, 5, 6, 789, time.UTC)
		end := at.AddDate(1, 0, 0)
		changes := 0
		for at.Before(end) {
			next, ok := NextChange(lat, 20, at)
			if !ok {
				t.Fatalf("latitude %v: no change within 200 days of %s", lat, at)
			}
			if !next.After(at) {
				t.Fatalf("latitude %v: %s is not after %s", lat, next, at)
			}
			checkBetween(t, lat, at, next)
			at = next
			changes++
		}
		if lat < 60 && lat > -60 && (changes < 729 || changes > 732) {
			t.Errorf("latitude %v: got %d changes in a year, want about 730", lat, changes)
		}
	}
}

func checkBetween(t *testing.T, lat float64, at, next time.Time) {
	t.Helper()
	was := IsDay(lat, 20, at)
	if IsDay(lat, 20, next.Add(-time.Nanosecond)) != was || IsDay(lat, 20, next) == was {
		t.Errorf("latitude %v: no change at %s", lat, next)
	}
	const probes = 40
	for i := range int64(probes) {
		mid := at.Add(next.Sub(at) / probes * time.Duration(i))
		if IsDay(lat, 20, mid) != was {
			t.Errorf("latitude %v: day changes at %s, between %s and %s", lat, mid, at, next)
		}
	}
}

// Against a plain search second by second around the end of a polar night,
// when the sun is up for minutes only.
func TestFirstGlimpse(t *testing.T) {
	lat, lon := 69.65, 18.96
	at := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
	for range 6 {
		naive := at
		for IsDay(lat, lon, naive) == IsDay(lat, lon, at) {
			naive = naive.Add(time.Second)
		}
		next, ok := NextChange(lat, lon, at)
		if !ok || !next.Equal(naive) {
			t.Fatalf("after %s: got %s, a plain search says %s", at, next, naive)
		}
		at = next
	}
}

// Near the pole the sun is highest hours away from noon, and around the
// equinox it comes and goes by hundredths of a degree: no glimpse of it may be
// missed.
func TestGrazingNearThePole(t *testing.T) {
	for lat := 89.7; lat < 89.96; lat += 0.004 {
		at := time.Date(2026, 3, 13, 0, 0, 0, 0, time.UTC)
		end := at.AddDate(0, 0, 9)
		up := IsDay(lat, 0, at)
		next, _ := NextChange(lat, 0, at)
		for ; at.Before(end); at = at.Add(time.Minute) {
			for !next.After(at) {
				up = !up
				next, _ = NextChange(lat, 0, next)
			}
			if IsDay(lat, 0, at) != up {
				t.Fatalf("latitude %.3f at %s: day is %v, the changes say %v", lat, at, !up, up)
			}
		}
	}
}

func TestNoChangeFound(t *testing.T) {
	if _, ok := nextChange(90, 0, 1767225600, 1767225600+20*86400); ok {
		t.Error("a change in January at the pole")
	}
	at := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		if _, ok := NextChange(bad, 0, at); ok {
			t.Errorf("a change at latitude %v", bad)
		}
		if _, ok := NextChange(0, bad, at); ok {
			t.Errorf("a change at longitude %v", bad)
		}
		if dayAt(bad, 0, at).kind != polarNight || IsDay(bad, 0, at) {
			t.Errorf("day at latitude %v", bad)
		}
	}
	if next, ok := NextChange(52, 0, time.Time{}); !ok || next.Sub(time.Time{}) > 18*time.Hour {
		t.Errorf("after the zero time: got %s %v", next, ok)
	}
}

func BenchmarkNextChange(b *testing.B) {
	at := time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)
	b.Run("52", func(b *testing.B) {
		for range b.N {
			NextChange(52, 5, at)
		}
	})
	b.Run("polar day", func(b *testing.B) {
		for range b.N {
			NextChange(85, 5, at)
		}
	})
	b.Run("IsDay", func(b *testing.B) {
		for range b.N {
			IsDay(52, 5, at)
		}
	})
}
