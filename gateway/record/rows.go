package record

import (
	"bytes"
	"fmt"
	"io"
)

// mostJoined is how many lines one quoted cell may go over.
const mostJoined = 50

// rows gives the rows of a table. A quoted cell may go over several lines. A
// quote that is never closed costs its row: the next line that is a row by
// itself is read as one.
type rows struct {
	lines *lines
	sep   byte
	want  int // cells of a row; 0: not known yet, then no row goes over lines
	ahead []line
	cells [][]byte
	quote []byte // scratch
}

// row is one row. Its cells hold until the next is read.
type row struct {
	cells [][]byte
	at    int64 // where its line begins
	n     int64 // number of its line
	fault *fault
}

// next returns the next row that is not blank; io.EOF after the last.
func (r *rows) next() (row, error) {
	for {
		l, err := r.line()
		if err != nil {
			return row{}, err
		}
		out := row{at: l.at, n: l.n}
		if l.long {
			out.fault = &fault{cause: TooLong, line: l.n, detail: fmt.Sprintf("the line is longer than %d bytes", maxLine)}
			return out, nil
		}
		if len(bytes.TrimSpace(l.text)) == 0 {
			continue
		}
		cells, whole, _ := r.split(l.text)
		if !whole {
			if cells, err = r.joined(l.text); err != nil {
				return row{}, err
			}
			if cells == nil {
				out.fault = &fault{cause: StrayQuote, line: l.n, detail: fmt.Sprintf("got %s: a quote begins a cell and nothing ends it", show(l.text))}
				return out, nil
			}
		}
		if out.cells = r.fit(cells); out.cells == nil {
			out.fault = &fault{cause: TooMany, line: l.n, detail: fmt.Sprintf("got %s: %d cells, want %d; does a cell have a comma in it?", show(l.text), len(cells), r.want)}
		}
		return out, nil
	}
}

// fit takes off empty cells beyond those wanted; nil: there are more than that.
func (r *rows) fit(cells [][]byte) [][]byte {
	for r.want > 0 && len(cells) > r.want {
		if len(cells[len(cells)-1]) > 0 {
			return nil
		}
		cells = cells[:len(cells)-1]
	}
	return cells
}

func (r *rows) line() (line, error) {
	if len(r.ahead) > 0 {
		l := r.ahead[0]
		r.ahead = r.ahead[1:]
		return l, nil
	}
	return r.lines.next()
}

// joined reads on in a row whose first line leaves a quote open; nil: the
// quote is a stray one, and what follows is to be read as if it were not there.
func (r *rows) joined(first []byte) ([][]byte, error) {
	if r.want == 0 {
		return nil, nil
	}
	text := bytes.Clone(first)
	for i := range mostJoined {
		if i == len(r.ahead) {
			l, err := r.lines.next()
			if err == io.EOF {
				return nil, nil
			}
			if err != nil {
				return nil, err
			}
			l.text = bytes.Clone(l.text)
			r.ahead = append(r.ahead, l)
		}
		l := r.ahead[i]
		if len(text)+len(l.text) > maxLine || l.long {
			return nil, nil
		}
		if cells, whole, odd := r.split(l.text); whole && !odd && len(cells) == r.want {
			return nil, nil
		}
		text = append(append(text, '\n'), l.text...)
		if cells, whole, odd := r.split(text); whole {
			if odd || len(cells) != r.want {
				return nil, nil
			}
			r.ahead = r.ahead[i+1:]
			return cells, nil
		}
	}
	return nil, nil
}

// split parts a line at its separators (RFC 4180). whole is false if a quote is
// left open, odd true if there is a quote where none belongs: such a cell is
// given as it stands.
func (r *rows) split(text []byte) (cells [][]byte, whole, odd bool) {
	r.cells = r.cells[:0]
	if bytes.IndexByte(text, '"') < 0 {
		for {
			i := bytes.IndexByte(text, r.sep)
			if i < 0 {
				break
			}
			r.cells = append(r.cells, trim(text[:i]))
			text = text[i+1:]
		}
		r.cells = append(r.cells, trim(text))
		return r.cells, true, false
	}
	r.quote = append(r.quote[:0], text...)
	text = r.quote
	for {
		cell, rest, end, state := cut(text, r.sep)
		if state == open {
			return r.cells, false, odd
		}
		odd = odd || state == strange
		r.cells = append(r.cells, cell)
		if end {
			return r.cells, true, odd
		}
		text = rest
	}
}

type quoting uint8

const (
	sound quoting = iota
	open
	strange
)

// cut takes the first cell off text, which it may change.
func cut(text []byte, sep byte) (cell, rest []byte, end bool, state quoting) {
	from := 0
	for from < len(text) && text[from] == ' ' {
		from++
	}
	to := from
	if from < len(text) && text[from] == '"' {
		cell, to = quoted(text, from+1)
		if to < 0 {
			return nil, nil, true, open
		}
		state = sound
	}
	stop := bytes.IndexByte(text[to:], sep)
	if end = stop < 0; end {
		stop = len(text) - to
	}
	after := trim(text[to : to+stop])
	switch {
	case cell == nil:
		cell = after
		if bytes.IndexByte(cell, '"') >= 0 {
			state = strange
		}
	case len(after) > 0:
		cell, state = trim(text[from:to+stop]), strange
	}
	if !end {
		rest = text[to+stop+1:]
	}
	return cell, rest, end, state
}

// quoted reads a cell from behind its quote; to is behind the closing one, -1 if
// there is none.
func quoted(text []byte, from int) (cell []byte, to int) {
	w, i := from, from
	for {
		k := bytes.IndexByte(text[i:], '"')
		if k < 0 {
			return nil, -1
		}
		w += copy(text[w:], text[i:i+k])
		i += k + 1
		if i == len(text) || text[i] != '"' {
			return trim(text[from:w:w]), i
		}
		text[w] = '"'
		w++
		i++
	}
}

func trim(b []byte) []byte {
	for len(b) > 0 && (b[0] == ' ' || b[0] == '\t' || b[0] == 0) {
		b = b[1:]
	}
	for len(b) > 0 && (b[len(b)-1] == ' ' || b[len(b)-1] == '\t' || b[len(b)-1] == 0) {
		b = b[:len(b)-1]
	}
	return b
}
