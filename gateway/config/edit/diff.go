package edit

import (
	"slices"
	"strings"
)

// ChangedLine is one line of what a draft changes.
type ChangedLine struct {
	Move byte // '+' it comes, '-' it goes, ' ' it stays, '~' lines that stay are left out here
	Line int  // in the file as it would be, for '-' as it is
	Text string
}

// Changes are the lines that come and go, each with the lines around it.
func (d *Draft) Changes() []ChangedLine {
	return around(changes(split(d.before), split(d.sheet.text)), 2)
}

func split(text []byte) []string {
	var out []string
	for line := range strings.Lines(string(text)) {
		out = append(out, strings.TrimRight(line, "\r\n"))
	}
	return out
}

// mostCells bounds the table of changes; beyond it the middle counts as
// rewritten.
const mostCells = 4 << 20

// changes compares two texts by their longest common sequence of lines.
func changes(a, b []string) []ChangedLine {
	head := 0
	for head < len(a) && head < len(b) && a[head] == b[head] {
		head++
	}
	tail := 0
	for tail < len(a)-head && tail < len(b)-head && a[len(a)-1-tail] == b[len(b)-1-tail] {
		tail++
	}
	var out []ChangedLine
	for i := range head {
		out = append(out, ChangedLine{' ', i + 1, b[i]})
	}
	out = append(out, middle(a[head:len(a)-tail], b[head:len(b)-tail], head)...)
	for i := len(b) - tail; i < len(b); i++ {
		out = append(out, ChangedLine{' ', i + 1, b[i]})
	}
	return out
}

func middle(a, b []string, from int) []ChangedLine {
	wide := len(b) + 1
	var left []int32 // longest common sequence of a[i:] and b[j:]
	if (len(a)+1)*wide <= mostCells {
		left = make([]int32, (len(a)+1)*wide)
		for i := len(a) - 1; i >= 0; i-- {
			for j := len(b) - 1; j >= 0; j-- {
				if a[i] == b[j] {
					left[i*wide+j] = left[(i+1)*wide+j+1] + 1
				} else {
					left[i*wide+j] = max(left[(i+1)*wide+j], left[i*wide+j+1])
				}
			}
		}
	}
	var out []ChangedLine
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		switch {
		case left != nil && i < len(a) && j < len(b) && a[i] == b[j]:
			out = append(out, ChangedLine{' ', from + j + 1, b[j]})
			i, j = i+1, j+1
		case i < len(a) && (j == len(b) || left == nil || left[(i+1)*wide+j] >= left[i*wide+j+1]):
			out = append(out, ChangedLine{'-', from + i + 1, a[i]})
			i++
		default:
			out = append(out, ChangedLine{'+', from + j + 1, b[j]})
			j++
		}
	}
	return out
}

// around leaves out lines that stay and are further than near from a change.
func around(all []ChangedLine, near int) []ChangedLine {
	keep := make([]bool, len(all))
	for i, l := range all {
		if l.Move != ' ' {
			for j := max(0, i-near); j <= min(len(all)-1, i+near); j++ {
				keep[j] = true
			}
		}
	}
	if !slices.Contains(keep, true) {
		return nil
	}
	var out []ChangedLine
	for i, l := range all {
		switch {
		case keep[i]:
			out = append(out, l)
		case i == 0 || keep[i-1]:
			out = append(out, ChangedLine{Move: '~'})
		}
	}
	return out
}
