package gateway

import (
	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/page"
)

// formsOf are the forms of the houses, for the page to draw.
func formsOf(c *config.Config) []page.Form {
	var out []page.Form
	for _, f := range c.Forms {
		form := page.Form{House: f.House, LeanTo: f.LeanTo, Right: f.Right, Width: f.Width, Length: f.Length, Eaves: f.Eaves, Ridge: f.Ridge,
			Places: map[alarms.PlaceID]page.Position{}, Drives: map[alarms.DriveID]page.Position{}}
		for _, b := range f.Bench {
			form.Bench = append(form.Bench, page.Bench(b))
		}
		for id, s := range f.Places {
			form.Places[id] = page.Position(s)
		}
		for id, s := range f.Drives {
			form.Drives[id] = page.Position(s)
		}
		out = append(out, form)
	}
	return out
}
