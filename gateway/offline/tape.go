package offline

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/record"
)

// Column says what a column of a table is.
type Column struct {
	Header   string
	Probe    alarms.ProbeID
	Quantity alarms.Quantity
	Unit     string
}

// ParseColumn reads "header=probe/quantity" or "header=probe/quantity:unit".
func ParseColumn(text string) (Column, error) {
	i := strings.LastIndexByte(text, '=')
	header, what := text[:max(i, 0)], text[i+1:]
	probe, rest, ok := strings.Cut(what, "/")
	quantity, unit, _ := strings.Cut(rest, ":")
	q := alarms.Quantity(quantity)
	if known := measured(); ok && quantity != "" && !slices.Contains(known, q) {
		return Column{}, fmt.Errorf("column %q: no probe measures %q%s", text, quantity, config.Meant(quantity, known))
	}
	if !ok || header == "" || probe == "" || quantity == "" {
		return Column{}, fmt.Errorf("column %q: want header=probe/quantity or header=probe/quantity:unit, for example inside_c=bench-1/temperature:°C", text)
	}
	return Column{Header: header, Probe: alarms.ProbeID(probe), Quantity: q, Unit: unit}, nil
}

// measured are the quantities that a probe may measure.
func measured() []alarms.Quantity {
	return slices.DeleteFunc(slices.Clone(alarms.Quantities), alarms.Quantity.Derived)
}

// tape is one file of recorded readings.
type tape struct {
	name  string
	table *record.Table
	lines *decode.Lines  // line protocol; nil: a table
	takes map[int]*taken // of a table, by series
	said  []string
	next  []value // the next row
}

// taken is what a series was taken for.
type taken struct {
	cells    *decode.Cells
	probe    alarms.ProbeID
	quantity alarms.Quantity
	unit     string // as in decode.Read
	aside    bool
}

func openTape(name string, o ReplayOptions) (*tape, error) {
	head, err := record.Head(name)
	if err != nil {
		return nil, err
	}
	t := &tape{name: name, takes: map[int]*taken{}}
	if isLines(head) {
		return t, t.openLines(o)
	}
	t.table, err = record.Open(name, o.Table)
	if err != nil {
		return nil, err
	}
	t.said = append(t.said, name+":")
	for _, s := range t.table.Said {
		t.said = append(t.said, "  "+s)
	}
	return t, nil
}

// isLines looks at the first line that is no comment.
func isLines(head []byte) bool {
	for line := range strings.Lines(string(head)) {
		if line = strings.TrimSpace(line); line != "" && line[0] != '#' {
			return decode.LooksLine([]byte(line))
		}
	}
	return false
}

func (t *tape) openLines(o ReplayOptions) error {
	if o.Config == nil {
		return fmt.Errorf("it is line protocol, which is read by a config whose probes say what in it is theirs: telltale replay CONFIG.toml %s", t.name)
	}
	var err error
	if t.lines, err = decode.NewLines(o.Config.Sources); err != nil {
		return err
	}
	var faults record.Faults
	t.table, err = record.OpenLines(t.name, func(line []byte, n int64) (int64, bool) {
		values, problems := t.lines.Read(line)
		for _, p := range problems {
			faults.Add(record.Cause(p.Cause), string(p.Probe), n, func() string { return p.Detail })
		}
		if len(values) == 0 {
			return 0, false
		}
		return values[0].Measured.UnixNano(), true
	})
	if err != nil {
		return err
	}
	t.table.Faults = faults
	t.said = append(t.said, fmt.Sprintf("%s: line protocol, read as the config says.", t.name))
	return nil
}

// used reports whether anything of the file is read.
func (t *tape) used() bool { return t.lines != nil || len(t.takes) > 0 }

// taken are the series that are read, in their order.
func (t *tape) taken() []int { return slices.Sorted(maps.Keys(t.takes)) }

// want leaves to the table what is read of it.
func (t *tape) want() { t.table.Want(t.taken()) }

// take says what a series is.
func (t *tape) take(i int, probe alarms.ProbeID, r decode.Read, aside bool) error {
	c, err := decode.NewCells(fmt.Sprintf("column %q", t.table.Series[i].Name()), r)
	if err != nil {
		return err
	}
	t.takes[i] = &taken{cells: c, probe: probe, quantity: r.Quantity, unit: r.Unit, aside: aside}
	return nil
}

// ready reads the next row that has a value; false: there is none any more.
func (t *tape) ready() (bool, error) {
	for len(t.next) == 0 {
		row, ok, err := t.table.Next()
		if err != nil || !ok {
			return false, err
		}
		if t.lines != nil {
			values, _ := t.lines.Read(row.Cells[0].Text)
			for _, v := range values {
				t.next = append(t.next, value{Value: v})
			}
			continue
		}
		at := time.Unix(0, row.At).UTC()
		for _, c := range row.Cells {
			k := t.takes[c.Series]
			v, cause, detail := k.cells.Value(c.Text)
			if cause != "" {
				t.table.Faults.Add(causeWords(cause), t.table.Series[c.Series].Name(), row.Line, func() string { return detail })
				continue
			}
			t.next = append(t.next, value{decode.Value{Probe: k.probe, Quantity: k.quantity, Value: v, Measured: at}, k.aside})
		}
	}
	return true, nil
}

// causeWords says a cause of bad cells in words.
func causeWords(c decode.Cause) record.Cause {
	switch c {
	case decode.NotNumber:
		return "no number"
	case decode.Comma:
		return "a comma in a number"
	case decode.NotFinite:
		return "no finite number"
	case decode.BadUnit:
		return "another unit"
	}
	return record.Cause(c)
}
