package record

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// finish settles what was found on the first way through.
func (v *survey) finish(o Options) error {
	t := v.t
	best, why, err := v.order()
	if err != nil {
		return err
	}
	if err := v.decimal(o); err != nil {
		return err
	}
	blocks, most := best.index.sorted()
	if most > mostOpen {
		return fmt.Errorf("its rows are in no order of time, and there are too many to sort them here: sort the file by the column %q first", t.shape.headers[t.shape.time])
	}
	t.queue, t.order, t.Late = blocks, best.order, best.late
	t.From, t.To = time.Unix(0, best.from).In(t.Zone), time.Unix(0, best.to).In(t.Zone)
	t.Zoned, t.Rows = v.unstated == 0, best.rows
	for _, f := range best.fault.all {
		t.Faults.Add(f.Cause, f.Column, f.Line, func() string { return f.Detail })
		t.Faults.all[len(t.Faults.all)-1].Count += f.Count - 1
	}
	count := uint64(0)
	for i := range t.Series {
		s := &t.Series[i]
		s.Count, s.Every = best.held[i].n, best.held[i].every.usual()
		for _, text := range v.texts[i].kept {
			b := []byte(text)
			t.point(b)
			s.Samples = append(s.Samples, string(b))
		}
		if s.Count > count {
			count, t.Every = s.Count, s.Every
		}
	}
	if t.at == nil {
		t.Said = v.said(best, why)
	}
	return nil
}

// order settles the order of day and month, with the reason where there was a
// choice.
func (v *survey) order() (best *ordered, why string, err error) {
	for _, o := range v.orders {
		if best == nil || o.good > best.good || o.good == best.good && o.course < best.course {
			best = o
		}
	}
	if best.good == 0 {
		return nil, "", v.noTime()
	}
	if len(v.orders) == 1 {
		return best, "as --dates says", nil
	}
	for _, o := range v.orders {
		same := o.good == best.good && o.from == best.from && o.to == best.to && o.course == best.course
		if o == best || same || !slices.Contains(v.form.orders(), o.order) {
			continue
		}
		switch {
		case o.good < best.good && why != "":
		case o.good < best.good:
			why = fmt.Sprintf("because %q (line %d) cannot be %s", o.bad.detail, o.bad.line, o.order)
		case best.course*2 < o.course:
			if why == "" {
				why = fmt.Sprintf("because its rows then follow each other; by %s they would leap to and fro", o.order)
			}
		case strings.Contains(v.shown, ".") && !strings.Contains(v.shown, "/"):
			if best = v.of(DayMonthYear); why == "" {
				why = "as is usual with points between; nothing in the file speaks for or against it"
			}
		default:
			return nil, "", &Unsure{What: fmt.Sprintf("the dates may be %s or %s: %q, and all others, can be read both ways", best.order, o.order, v.shown),
				Flag: fmt.Sprintf("--dates %s or --dates %s", best.order, o.order)}
		}
	}
	return best, why, nil
}

func (v *survey) of(order Order) *ordered {
	i := slices.IndexFunc(v.orders, func(o *ordered) bool { return o.order == order })
	return v.orders[max(i, 0)]
}

func (v *survey) noTime() error {
	text := "no row has a time that can be read"
	all := v.t.Faults.All()
	for _, o := range v.orders[:1] {
		all = append(all, o.fault.all...)
	}
	for i, f := range all {
		if i == 3 {
			break
		}
		text += "; " + f.String()
	}
	return errors.New(text)
}

// decimal settles what marks the decimals.
func (v *survey) decimal(o Options) error {
	switch {
	case o.Decimal != 0:
		v.t.comma = o.Decimal == ','
	case v.commas == 0 || v.points > 10*v.commas:
	case v.points > 0 && v.commas < 10*v.points:
		return &Unsure{What: fmt.Sprintf("%d numbers have a comma, such as %q, and %d a point", v.commas, v.firstComma, v.points), Flag: "--decimal comma or --decimal point"}
	case v.threes == v.commas && v.points == 0:
		return &Unsure{What: fmt.Sprintf("in %q the comma may mark decimals or thousands, as in every other number of the file that has one", v.firstComma), Flag: "--decimal comma or --decimal point"}
	default:
		v.t.comma = true
	}
	return nil
}
