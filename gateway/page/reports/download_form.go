package reports

import (
	"encoding/csv"
	"io"
	"strconv"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
	"telltale/gateway/page/service"
)

// Form writes samples, which come in the order of time.
type Form interface {
	Head() error
	Sample(service.DownloadSample) error
	End() error
}

func NewForm(to io.Writer, form string, streams []service.DownloadStream, zone *time.Location) Form {
	if form == "line" {
		l := &lineForm{to: to, streams: streams}
		l.lp.SetPrecision(lineprotocol.Nanosecond)
		return l
	}
	table := csv.NewWriter(to)
	table.UseCRLF = true // RFC 4180
	if form == "long" {
		return &longForm{out: table, streams: streams, zone: zone}
	}
	return &wideForm{out: table, streams: streams, zone: zone}
}

// The kinds of a row.
const (
	rowReading = "reading"
	rowLowest  = "lowest of 10 min"
	rowMean    = "mean of 10 min"
	rowHighest = "highest of 10 min"
)

// rowTime is ISO 8601 with the offset from UTC, to the millisecond.
const rowTime = "2006-01-02T15:04:05.000Z07:00"

// unitOf is the unit in which the history of q is kept.
func unitOf(q alarms.Quantity) string {
	if q == alarms.Contact {
		return "1 closed"
	}
	return q.Facts().Unit
}

func plainValue(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// rowsOf are the rows of a sample: a reading has one, a sum three.
func rowsOf(x service.DownloadSample) (kinds []string, values []float64) {
	if !x.Sum {
		return []string{rowReading}, []float64{x.Mean}
	}
	return []string{rowLowest, rowMean, rowHighest}, []float64{x.Min, x.Mean, x.Max}
}

// wideForm has a column a stream and a row a moment and kind.
type wideForm struct {
	out     *csv.Writer
	streams []service.DownloadStream
	zone    *time.Location
	at      time.Time
	sum     bool
	open    bool
	three   [3][]string // of a sum: lowest, mean, highest
}

func (f *wideForm) Head() error {
	row := []string{"time", "kind"}
	for _, st := range f.streams {
		name := st.PlaceName + " " + string(st.Probe) + " " + string(st.Quantity)
		if u := unitOf(st.Quantity); u != "" {
			name += " [" + u + "]"
		}
		row = append(row, name)
	}
	for i := range f.three {
		f.three[i] = make([]string, len(row))
	}
	return f.out.Write(safeCells(row))
}

func (f *wideForm) Sample(x service.DownloadSample) error {
	if f.open && (!x.At.Equal(f.at) || x.Sum != f.sum || f.three[0][2+x.Stream] != "") {
		if err := f.flush(); err != nil {
			return err
		}
	}
	f.open, f.at, f.sum = true, x.At, x.Sum
	_, values := rowsOf(x)
	for i, v := range values {
		f.three[i][2+x.Stream] = plainValue(v)
	}
	return nil
}

func (f *wideForm) flush() error {
	kinds, _ := rowsOf(service.DownloadSample{Sum: f.sum})
	for i, kind := range kinds {
		f.three[i][0], f.three[i][1] = f.at.In(f.zone).Format(rowTime), kind
		if err := f.out.Write(f.three[i]); err != nil {
			return err
		}
	}
	for i := range f.three {
		clear(f.three[i])
	}
	f.open = false
	return nil
}

func (f *wideForm) End() error {
	if f.open {
		if err := f.flush(); err != nil {
			return err
		}
	}
	f.out.Flush()
	return f.out.Error()
}

// longForm has a row a value.
type longForm struct {
	out     *csv.Writer
	streams []service.DownloadStream
	zone    *time.Location
}

func (f *longForm) Head() error {
	return f.out.Write([]string{"time", "kind", "house", "place", "probe", "quantity", "value", "unit"})
}

func (f *longForm) Sample(x service.DownloadSample) error {
	st := f.streams[x.Stream]
	kinds, values := rowsOf(x)
	for i, kind := range kinds {
		err := f.out.Write(safeCells([]string{x.At.In(f.zone).Format(rowTime), kind, string(st.House), string(st.Place), string(st.Probe),
			string(st.Quantity), plainValue(values[i]), unitOf(st.Quantity)}))
		if err != nil {
			return err
		}
	}
	return nil
}

func (f *longForm) End() error {
	f.out.Flush()
	return f.out.Error()
}

// lineForm writes line protocol as the export does: measurement "reading" with
// the tags house, place and probe and a field a quantity. Sums of 10 minutes
// are of the measurement "reading_10m", with the fields quantity_lowest,
// quantity_mean and quantity_highest, at the beginning of the 10 minutes.
type lineForm struct {
	to      io.Writer
	streams []service.DownloadStream
	lp      lineprotocol.Encoder
}

func (f *lineForm) Head() error { return nil }

func (f *lineForm) Sample(x service.DownloadSample) error {
	st := f.streams[x.Stream]
	measurement := "reading"
	if x.Sum {
		measurement = "reading_10m"
	}
	f.lp.StartLine(measurement)
	f.lp.AddTag("house", string(st.House))
	f.lp.AddTag("place", string(st.Place))
	f.lp.AddTag("probe", string(st.Probe))
	if x.Sum {
		f.field(string(st.Quantity)+"_lowest", x.Min)
		f.field(string(st.Quantity)+"_mean", x.Mean)
		f.field(string(st.Quantity)+"_highest", x.Max)
	} else {
		f.field(string(st.Quantity), x.Mean)
	}
	f.lp.EndLine(x.At)
	if err := f.lp.Err(); err != nil {
		return err
	}
	_, err := f.to.Write(f.lp.Bytes())
	f.lp.Reset()
	return err
}

func (f *lineForm) field(name string, v float64) {
	if value, ok := lineprotocol.FloatValue(v); ok {
		f.lp.AddField(name, value)
	}
}

func (f *lineForm) End() error { return nil }
