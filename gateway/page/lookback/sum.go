package lookback

import (
	"slices"
	"strings"
)

// dayTable is a strip of days as figures.
type dayTable struct {
	Heads []string
	Rows  []dayTableRow
}

type dayTableRow struct {
	Day   string
	Cells []string
}

// sum writes the whole in words, and days as a table.
func (d *dayDrawing) sum() {
	v := &d.view
	v.Text = d.ask.House.Name + ", " + v.Title + "."
	for _, p := range v.Panels {
		v.Text += " " + p.Title + ": " + p.Text
	}
	for _, a := range v.Ahead {
		v.Text += " " + d.w.Say("Ahead")
		if a.Place != "" {
			v.Text += ", " + a.Place
		}
		v.Text += ": " + a.Says
	}
	for _, r := range v.Drives {
		v.Text += " " + r.Text
	}
	if n := len(v.Happened) + v.Left; n > 0 {
		v.Text += " " + d.w.Say("%d alarms and acknowledgements, in the list below.", n)
	}
	if v.Cells && v.Own {
		v.Table = d.table()
	}
}

// table writes each day's lowest and highest; days of which nothing is known
// are left out.
func (d *dayDrawing) table() *dayTable {
	v, t := &d.view, &dayTable{}
	rows := make([]dayTableRow, len(v.cuts)-1)
	index := map[int64]int{}
	for i := range rows {
		rows[i].Day = d.w.Stamp(v.cuts[i], "2 Jan 2006")
		index[v.cuts[i].UnixNano()] = i
	}
	for n, p := range v.Panels {
		t.Heads = append(t.Heads, p.Title)
		for i := range rows {
			rows[i].Cells = append(rows[i].Cells, "", "")
		}
		for _, pt := range p.Points {
			if i, ok := index[pt.At.UnixNano()]; ok {
				rows[i].Cells[2*n], rows[i].Cells[2*n+1] = d.w.Value(p.Quantity, pt.Min), d.w.Value(p.Quantity, pt.Max)
			}
		}
	}
	t.Rows = slices.DeleteFunc(rows, func(r dayTableRow) bool { return strings.Join(r.Cells, "") == "" })
	return t
}
