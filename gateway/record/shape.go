package record

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
)

// shape is how a table is laid out.
type shape struct {
	eol     byte
	sep     byte
	first   int64 // where its first row of data begins
	line    int64 // number of that line
	headers []string
	above   int   // lines that stand above the header
	headed  bool  // it has a header
	time    int   // column with the date, or with date and time
	clock   int   // column with the time of day alone; -1: none
	keys    []int // columns that name what a row is about
	values  []int // the others
	utc     bool  // the header says that times are in UTC
	newest  bool  // the first rows go back in time
}

// sampleBytes is how much of each piece of a file is looked at for its shape.
const sampleBytes = 64 << 10

// sampled is one row of the sample.
type sampled struct {
	cells []string
	at, n int64
}

// sample reads rows of a piece of the text; those of a piece that begins
// somewhere are without the first line, which may be half a one.
func sample(p *plain, begin, n int64, eol, sep byte, want int) ([]sampled, error) {
	r := &rows{lines: newLines(p, p.size, begin, n, eol), sep: sep, want: want}
	var out []sampled
	for {
		x, err := r.next()
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		if x.at-begin > sampleBytes && len(out) > 2 || len(out) > 2000 {
			return out, nil
		}
		if x.fault != nil {
			continue
		}
		s := sampled{at: x.at, n: x.n, cells: make([]string, len(x.cells))}
		for i, c := range x.cells {
			s.cells[i] = strings.ToValidUTF8(string(c), "")
		}
		out = append(out, s)
	}
}

// sample reads the first rows, with cells over several lines once it is known
// how many cells there are.
func (s *shape) sample(p *plain) ([]sampled, error) {
	got, err := sample(p, p.begin, 1, s.eol, s.sep, 0)
	if err != nil || s.lay(got) == 0 {
		return got, err
	}
	return sample(p, p.begin, 1, s.eol, s.sep, len(s.headers))
}

var separators = []byte{',', ';', '\t', '|'}

func sepName(sep byte) string {
	return map[byte]string{',': "commas", ';': "semicolons", '\t': "tabs", '|': "upright strokes"}[sep]
}

// findShape looks at the beginning, and for what rows name at other pieces too.
func findShape(p *plain, o Options) (*shape, error) {
	eol, err := eolOf(p, p.begin)
	if err != nil {
		return nil, err
	}
	best, score := (*shape)(nil), 0
	var head []sampled
	for _, sep := range separators {
		if o.Separator != 0 && o.Separator != sep {
			continue
		}
		s := &shape{eol: eol, sep: sep, clock: -1}
		got, err := s.sample(p)
		if err != nil {
			return nil, err
		}
		if n := s.lay(got); n > score {
			best, score, head = s, n, got
		}
	}
	if best == nil {
		return nil, noTable(p, eol)
	}
	head = slices.DeleteFunc(head, func(s sampled) bool { return s.at < best.first })
	if err := best.findTime(head, o); err != nil {
		return nil, err
	}
	best.findOrder(head)
	for _, part := range []int64{1, 2, 3} {
		if at := best.first + (p.size-best.first)*part/4; p.size > 4*sampleBytes {
			more, err := sample(p, at, 1, eol, best.sep, len(best.headers))
			if err != nil {
				return nil, err
			}
			head = append(head, more[1:]...)
		}
	}
	best.findKeys(head)
	return best, nil
}

func noTable(p *plain, eol byte) error {
	l, err := newLines(p, p.size, p.begin, 1, eol).next()
	if err != nil && err != io.EOF {
		return err
	}
	return fmt.Errorf("no row with a time and a number was found in its first lines, which begin %s: want a table with a time in each row, its cells separated by commas, semicolons or tabs", show(l.text))
}

// isData reports whether a row has a time and something measured beside it.
func isData(cells []string) bool {
	times, numbers := 0, 0
	for _, c := range cells {
		b := []byte(c)
		if s, ok := readStamp(b); ok && (s.counts == noCount || numbers == 0 && times == 0) {
			times++
		} else if looksNumber(b) || isMissing(b) {
			numbers++
		}
	}
	return times > 0 && numbers > 0
}

// lay finds where header and data begin, and how well this separator suits: 0
// is not at all.
func (s *shape) lay(all []sampled) (score int) {
	begin := -1
	width := map[int]int{}
	for i, r := range all {
		if !isData(r.cells) {
			continue
		}
		if begin < 0 {
			begin = i
		}
		width[len(r.cells)]++
		for _, c := range r.cells {
			if looksNumber([]byte(c)) {
				score++
			}
		}
		score += 3
	}
	if begin < 0 {
		return 0
	}
	wide := 0
	for w, n := range width {
		if n > width[wide] || n == width[wide] && w > wide {
			wide = w
		}
	}
	if begin > 0 && width[len(all[begin-1].cells)] > 0 {
		wide = len(all[begin-1].cells) // as many as the header names
	}
	s.first, s.line = all[begin].at, all[begin].n
	s.header(all[:begin], wide)
	return score
}

// header takes the lines above the data that have as many cells: the first of
// them names the columns, one of units goes with it.
func (s *shape) header(above []sampled, wide int) {
	from := len(above)
	for from > 0 && (len(above[from-1].cells) == wide || len(above[from-1].cells) > 1 && from == len(above)) {
		from--
	}
	s.headers = make([]string, wide)
	for i := range s.headers {
		s.headers[i] = fmt.Sprint(i + 1)
	}
	if s.headed = from < len(above); !s.headed {
		s.above = len(above)
		return
	}
	s.above = from
	names := above[from].cells
	names[0] = strings.TrimLeft(names[0], "# ")
	for _, row := range above[from+1:] {
		if n := units(row.cells); 2*n >= len(row.cells)-slices.Index(append(slices.Clone(row.cells), ""), "") && n > 0 {
			for i := range min(len(names), len(row.cells)) {
				if u := strings.Trim(row.cells[i], "[]() "); u != "" && names[i] != "" {
					names[i] += " (" + u + ")"
				}
			}
			break
		}
	}
	for i := range min(len(names), wide) {
		if names[i] != "" {
			s.headers[i] = names[i]
		}
	}
	for len(s.headers) < len(names) {
		s.headers = append(s.headers, names[len(s.headers)])
	}
}

func units(cells []string) (n int) {
	for _, c := range cells {
		if slices.Contains(unitWords, strings.ToLower(strings.Trim(c, "[]() "))) {
			n++
		}
	}
	return n
}

// kinds counts what the cells of a column look like.
type kinds struct {
	filled, full, date, clock, zeroClock, bare, number int
	words                                              map[string]int
}

func (s *shape) kinds(all []sampled) []kinds {
	out := make([]kinds, len(s.headers))
	for i := range out {
		out[i].words = map[string]int{}
	}
	for _, r := range all {
		for i := range min(len(r.cells), len(out)) {
			out[i].add([]byte(r.cells[i]))
		}
	}
	return out
}

func (k *kinds) add(b []byte) {
	if isMissing(b) {
		return
	}
	k.filled++
	st, ok := readStamp(b)
	switch {
	case ok && st.counts != noCount:
		k.bare++
	case ok && st.date && st.clock:
		k.full++
		if st.sec == 0 {
			k.zeroClock++
		}
	case ok && st.date:
		k.date++
	case ok:
		k.clock++
	}
	if looksNumber(b) {
		k.number++
	} else if len(k.words) < 1000 && len(b) <= 100 {
		k.words[string(bytes.ToLower(b))]++
	}
}
