package lookback

import (
	"telltale/alarms"
	"telltale/gateway/page/draw"
)

// aheadWords is what is expected of one place, in words.
type aheadWords struct {
	Place  string // "" where only one is shown
	Says   string // or why nothing can be said
	Record string // what came of its warnings
	Drawn  bool
}

// ahead is what is expected of what a panel of a strip that ends now shows, and
// keeps it in words.
func (d *dayDrawing) ahead(p alarms.PlacePicture, q alarms.Quantity) *draw.AheadAsk {
	v := &d.view
	if q != alarms.Temperature || p.Outlook == nil || !v.Live || d.ask.zoom.days != 1 {
		return nil
	}
	ask, why := draw.AheadOf(d.w, &p, d.now)
	says := aheadWords{Says: why, Record: p.Outlook.Record.Sentence, Drawn: ask != nil}
	if ask != nil {
		says.Says = p.Outlook.Sentence
	}
	if len(d.ask.Places) > 1 {
		says.Place = p.Name
	}
	v.Ahead = append(v.Ahead, says)
	return ask
}

// tookAhead makes room for what is drawn beyond now.
func (v *Strip) tookAhead(c *draw.Panel) {
	if c.Ahead == nil {
		return
	}
	v.Share = draw.PastShare
	v.HasCrossing = v.HasCrossing || len(c.Ahead.Crossings) > 0
}

// AheadShare is the width of what is ahead, in per cent, for the template.
func (v Strip) AheadShare() float64 { return 100 - v.Share }
