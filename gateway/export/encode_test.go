package export

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
)

// point is a line as the library's decoder reads it.
type point struct {
	name   string
	tags   map[string]string
	fields map[string]any
	at     time.Time
}

func decodePoints(t *testing.T, text []byte) []point {
	t.Helper()
	var all []point
	d := lineprotocol.NewDecoderWithBytes(text)
	for d.Next() {
		p := point{tags: map[string]string{}, fields: map[string]any{}}
		name, err := d.Measurement()
		if err != nil {
			t.Fatal(err)
		}
		p.name = string(name)
		for {
			k, v, err := d.NextTag()
			if err != nil {
				t.Fatal(err)
			}
			if k == nil {
				break
			}
			p.tags[string(k)] = string(v)
		}
		for {
			k, v, err := d.NextField()
			if err != nil {
				t.Fatal(err)
			}
			if k == nil {
				break
			}
			if s, ok := v.Interface().(string); ok {
				p.fields[string(k)] = strings.Clone(s)
			} else {
				p.fields[string(k)] = v.Interface()
			}
		}
		if p.at, err = d.Time(lineprotocol.Nanosecond, time.Time{}); err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}

func TestReadingLine(t *testing.T) {
	b, refused, err := newEncoder().encode([]item{{reading: Reading{House: "long-house", Place: "bench", Probe: "bench-1",
		Quantity: alarms.Temperature, Value: 21.5, At: time.Unix(1775369228, 0)}}})
	want := "reading,house=long-house,place=bench,probe=bench-1 temperature=21.5 1775369228000000000\n"
	if string(b.text) != want || b.lines != 1 || refused != 0 || err != nil {
		t.Fatalf("got %q, %d, %d, %v; want %q", b.text, b.lines, refused, err, want)
	}
}

// Everything that is written is read back by the library's decoder with the
// same names, values and times, however odd the text.
func TestRoundTrip(t *testing.T) {
	value, limit := 31.25, 30.0
	sentence := "Bench at 31.3 °C,\nabove \"30 °C\" \\ since 12:00 = long"
	items := []item{
		{reading: Reading{House: "long house", Place: "bench,=1", Probe: "", Quantity: alarms.DewMargin, Value: -0.1, At: noon}},
		{transition: &alarms.Transition{ID: "long-house/bench/temperature/high#3", Alarm: "long-house/bench/temperature/high", Move: alarms.Raise,
			To: alarms.Unacknowledged, Level: alarms.Outer, Priority: alarms.Medium, Due: noon, Noticed: noon.Add(time.Second), Sentence: sentence,
			Reason: alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench", Quantity: alarms.Temperature, Value: &value, Limit: &limit}}},
		{transition: &alarms.Transition{ID: "watch/restart#1", Alarm: "watch/restart", Move: alarms.Note, Due: noon, Sentence: "broken \xff text"}},
	}
	b, refused, err := newEncoder().encode(items)
	if refused != 0 || err != nil || b.lines != 3 || bytes.Count(b.text, []byte("\n")) != 3 {
		t.Fatalf("refused %d, %v, %d lines: %s", refused, err, b.lines, b.text)
	}
	got := decodePoints(t, b.text)
	if p := got[0]; p.name != "reading" || len(p.tags) != 2 || p.tags["house"] != "long house" || p.tags["place"] != "bench,=1" ||
		p.fields["dew-margin"] != -0.1 || !p.at.Equal(noon) {
		t.Errorf("reading: got %+v", p)
	}
	p := got[1]
	for k, want := range map[string]string{"alarm": "long-house/bench/temperature/high", "house": "long-house", "move": "raise", "place": "bench",
		"priority": "medium", "quantity": "temperature", "rule": "limit"} {
		if p.tags[k] != want {
			t.Errorf("tag %s: got %q, want %q", k, p.tags[k], want)
		}
	}
	for k, want := range map[string]any{"id": "long-house/bench/temperature/high#3", "from": "normal", "to": "unacknowledged", "level": "outer",
		"sentence": sentence, "noticed": noon.Add(time.Second).UnixNano(), "value": 31.25, "limit": 30.0} {
		if p.fields[k] != want {
			t.Errorf("field %s: got %v, want %v", k, p.fields[k], want)
		}
	}
	if len(p.tags) != 7 || len(p.fields) != 8 || !p.at.Equal(noon) {
		t.Errorf("got %+v", p)
	}
	if p := got[2]; p.fields["sentence"] != "broken \uFFFD text" || p.tags["place"] != "" {
		t.Errorf("got %+v", p)
	}
}

// What cannot be said costs itself, never the line before or after.
func TestRefusedLinesCostTheOthersNothing(t *testing.T) {
	good := func(i int) item { return item{reading: numbered(i)} }
	bad := func(change func(*Reading)) item {
		r := numbered(99)
		change(&r)
		return item{reading: r}
	}
	items := []item{
		bad(func(r *Reading) { r.Value = math.NaN() }), good(0),
		bad(func(r *Reading) { r.Value = math.Inf(1) }), good(1),
		bad(func(r *Reading) { r.At = time.Time{} }), good(2),
		bad(func(r *Reading) { r.Probe = "a\nb" }), good(3),
		bad(func(r *Reading) { r.Place = `ends with \` }), bad(func(r *Reading) { r.House = "\xff" }), good(4),
		bad(func(r *Reading) { r.Quantity = "" }), good(5),
		bad(func(r *Reading) { r.At = time.Date(2400, 1, 1, 0, 0, 0, 0, time.UTC) }), good(6),
		{transition: &alarms.Transition{ID: "x#1"}}, good(7),
	}
	b, refused, why := newEncoder().encode(items)
	if got := numbers(t, b.text); len(got) != 8 || b.lines != 8 || refused != 9 || why == nil || !strings.Contains(why.Error(), "is NaN") {
		t.Fatalf("got %v, %d lines, refused %d, %v\n%s", got, b.lines, refused, why, b.text)
	}
	for i, l := range lines(b.text) {
		if !strings.Contains(l, "temperature="+string(rune('0'+i))+" ") {
			t.Errorf("line %d: %s", i, l)
		}
	}
}

func TestSplitKeepsLinesWhole(t *testing.T) {
	b := numberedBatch(0, 100)
	one := len(numberedBatch(0, 1).text)
	for _, most := range []int{1, one, one*3 + 5, len(b.text) - 1, len(b.text), 1 << 20} {
		var got []int
		for _, p := range b.split(most) {
			n := numbers(t, p.text)
			if len(n) != p.lines || (len(p.text) > most && p.lines != 1) {
				t.Fatalf("at most %d: a piece of %v", most, p)
			}
			got = append(got, n...)
		}
		if !slices.Equal(got, countTo(100)) {
			t.Errorf("at most %d: got %v", most, got)
		}
	}
}

func BenchmarkEncode(b *testing.B) {
	items := make([]item, 1000)
	for i := range items {
		items[i] = item{reading: numbered(i)}
	}
	b.Run("readings", func(b *testing.B) {
		e := newEncoder()
		b.ReportAllocs()
		for range b.N {
			if got, _, err := e.encode(items); got.lines != 1000 || err != nil {
				b.Fatal(got, err)
			}
		}
	})
	b.Run("bare-encoder", func(b *testing.B) {
		var e lineprotocol.Encoder
		b.ReportAllocs()
		for range b.N {
			e.Reset()
			for i := range items {
				r := &items[i].reading
				e.StartLine("reading")
				e.AddTag("house", string(r.House))
				e.AddTag("place", string(r.Place))
				e.AddTag("probe", string(r.Probe))
				v, _ := lineprotocol.FloatValue(r.Value)
				e.AddField(string(r.Quantity), v)
				e.EndLine(r.At)
			}
		}
	})
}

// A line of the log of switchings carries what adds up to hours run and starts.
func TestSwitchingsAddUp(t *testing.T) {
	run := &alarms.Switched{Ran: noon.Add(-90 * time.Second), Stopped: noon, Right: true}
	items := []item{{transition: &alarms.Transition{ID: "long-house/exhaust/switching#1", Alarm: "long-house/exhaust/switching",
		Move: alarms.Note, Due: noon, Reason: alarms.Reason{Rule: alarms.RuleSwitching, Drive: "exhaust", Switched: run}}}}
	b, refused, err := newEncoder().encode(items)
	if refused != 0 || err != nil {
		t.Fatal(refused, err)
	}
	p := decodePoints(t, b.text)[0]
	if p.tags["drive"] != "exhaust" || p.fields["ran_seconds"] != 90.0 || p.fields["starts"] != int64(1) || p.fields["right"] != true {
		t.Errorf("got %+v", p)
	}
}
