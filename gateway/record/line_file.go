package record

import "errors"

// OpenLines looks at a file of lines that each state their time, such as line
// protocol: at says when a line was measured, in ns since 1970 UTC, and ok is
// false for one that is to be passed over. Each Row has the line as its one cell.
func OpenLines(name string, at func(line []byte, n int64) (ns int64, ok bool)) (*Table, error) {
	p, err := openPlain(name)
	if err != nil {
		return nil, err
	}
	t, err := newLineTable(p, at)
	if err != nil {
		return nil, errors.Join(err, p.close())
	}
	return t, nil
}

func newLineTable(p *plain, at func(line []byte, n int64) (ns int64, ok bool)) (*Table, error) {
	eol, err := eolOf(p, p.begin)
	if err != nil {
		return nil, err
	}
	// no line has the separator in it, so that each is one cell
	t := newTableOf(p, &shape{eol: eol, first: p.begin, line: 1, headers: []string{"line"}, clock: -1, values: []int{0}}, Options{})
	t.at = at
	return t, t.survey(Options{Dates: YearMonthDay, Decimal: '.'})
}
