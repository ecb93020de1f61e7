package api

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// lackNames say in the API why nothing can be said of what is ahead.
var lackNames = map[outlook.Lack]string{outlook.Days: "days", outlook.Hour: "hour", outlook.Often: "often"}

// outlookView is what is expected of a place, in seconds and °C.
type outlookView struct {
	At       time.Time     `json:"at,omitzero"`
	Lacks    string        `json:"lacks,omitempty"`
	Sentence string        `json:"sentence"`
	Ahead    []aheadView   `json:"ahead"`
	Limits   []limitView   `json:"limits"`
	Days     []dayView     `json:"days"`
	Drives   []failureView `json:"drives"`
	Figures  []figureView  `json:"figures"`
	Warnings warningsView  `json:"warnings"`
}

type aheadView struct {
	In      float64   `json:"in_s"`
	Highest []float64 `json:"highest"`
	Lowest  []float64 `json:"lowest"`
}

type limitView struct {
	Side   alarms.Side  `json:"side"`
	Level  alarms.Level `json:"level"`
	Limit  float64      `json:"limit"`
	Likely []float64    `json:"likely"`
	Soon   float64      `json:"soon_s"`
	Middle float64      `json:"middle_s"`
	Late   float64      `json:"late_s"`
	Warned bool         `json:"warned"`
}

type dayView struct {
	Side     alarms.Side `json:"side"`
	Value    float64     `json:"value"`
	From     float64     `json:"from"`
	To       float64     `json:"to"`
	At       time.Time   `json:"at"`
	Reaches  *float64    `json:"reaches,omitempty"`
	Sentence string      `json:"sentence"`
}

type failureView struct {
	Drive    alarms.DriveID   `json:"drive"`
	With     []alarms.DriveID `json:"with,omitempty"`
	Side     alarms.Side      `json:"side"`
	Limit    float64          `json:"limit"`
	Known    bool             `json:"known"`
	Holds    bool             `json:"holds"`
	Soon     float64          `json:"soon_s"`
	Middle   float64          `json:"middle_s"`
	Late     float64          `json:"late_s"`
	Sentence string           `json:"sentence"`
}

type figureView struct {
	Name     string  `json:"name"`
	Unit     string  `json:"unit"`
	Value    float64 `json:"value"`
	From     float64 `json:"from"`
	To       float64 `json:"to"`
	Sentence string  `json:"sentence"`
}

type warningsView struct {
	Right    int     `json:"right"`
	False    int     `json:"false"`
	Spare    float64 `json:"spare_s"`
	Sentence string  `json:"sentence"`
}

// outlookOf is what is expected of a place, nil where it has no limit to expect. What
// was expected long ago by now is left out.
func outlookOf(o *alarms.OutlookPicture, now time.Time) *outlookView {
	if o == nil {
		return nil
	}
	v := &outlookView{At: o.At.UTC(), Lacks: lackNames[o.Lacks], Sentence: o.Sentence, Ahead: []aheadView{}, Limits: []limitView{},
		Days: []dayView{}, Drives: []failureView{}, Figures: []figureView{},
		Warnings: warningsView{o.Record.Right, o.Record.False, o.Record.Spare.Seconds(), o.Record.Sentence}}
	if o.Stands(now) {
		for _, a := range o.Ahead {
			if a.Whole() {
				v.Ahead = append(v.Ahead, aheadView{a.In.Seconds(), slices.Clone(a.Highest), slices.Clone(a.Lowest)})
			}
		}
		for _, l := range o.Limits {
			v.Limits = append(v.Limits, limitView{l.Side, l.Level, l.Limit, append([]float64{}, l.Likely...),
				l.Soon.Seconds(), l.Middle.Seconds(), l.Late.Seconds(), l.Warned})
		}
	}
	for _, d := range o.Days {
		v.Days = append(v.Days, dayView{d.Side, d.Value, d.From, d.To, d.At.UTC(), d.Reaches, d.Sentence})
	}
	for _, f := range o.Drives {
		v.Drives = append(v.Drives, failureView{f.Drive, f.With, f.Side, f.Limit, f.Known, f.Holds, f.Soon.Seconds(), f.Middle.Seconds(), f.Late.Seconds(), f.Sentence})
	}
	for _, f := range o.Figure {
		v.Figures = append(v.Figures, figureView(f))
	}
	return v
}
