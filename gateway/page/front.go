package page

import (
	"context"
	"hash/fnv"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

const (
	frontLog   = 8 // lines of the log on the front page
	frontWait  = 5 * time.Second
	logRefresh = 30 * time.Second
)

// frontView is the front page. The parts of it that the hub draws know nothing
// of who looks: the name is put in by the page and its script.
type frontView struct {
	frame
	Shape    string
	Top      topView
	Alarms   alarmsView
	Aside    asideView
	Houses   []houseView
	Controls []controlView // of Houses, in their order
	Charts   []chartsView
	Log      logView
	Who      string
	HasLine  bool // somebody is told of alarms

	drawn []piece // of the front page itself
	Has   string  // marks of these
}

// Piece is a live part of the page, by its ID.
func (v *frontView) Piece(id string) template.HTML {
	i := slices.IndexFunc(v.drawn, func(p piece) bool { return p.id == id })
	if i < 0 {
		return ""
	}
	return template.HTML(v.drawn[i].html) // which a template wrote
}

type logView struct {
	Lines  []tendLine
	Failed bool
}

// drawn names one piece with its template and data.
type drawn struct {
	id, template string
	data         any
}

// pieces lists the live parts in the order of the page.
func (v *frontView) pieces() []drawn {
	out := []drawn{{"top", "top", v.Top}, {"alarms", "alarms", v.Alarms}}
	for i, h := range v.Houses {
		out = append(out, drawn{h.Anchor, "house", h})
		out = append(out, drawn{h.Anchor + "-all", "readings", h})
		if control := v.Controls[i]; control.Any {
			out = append(out, drawn{control.Anchor, "works", control})
		}
	}
	return append(out, drawn{"aside", "aside", v.Aside}, drawn{"lately", "lately", v.Log})
}

// frontView gathers all that is live; it reads the log only when an alarm has
// moved or some time has passed.
func (s *Server) frontView(ctx context.Context, w words.Words, look bool, cache *logCache) *frontView {
	still := s.hub.standsStill()
	p, now := s.picture(w), s.watch.Now()
	v := &frontView{Top: topViewOf(w, p, now, still)}
	v.Top.Away, v.Top.NoHand = s.awayNow(w, now)
	v.Alarms, v.Aside = splitAlarms(w, p, now)
	v.Alarms.Pages = s.tends()
	for _, h := range p.Houses {
		v.Houses = append(v.Houses, s.houseView(w, h, now))
		v.Controls = append(v.Controls, controlOf(w, h, now))
	}
	v.Top.Mark, v.Top.Calm = worstMark(v), len(v.Alarms.Open) == 0
	v.Log = cache.view(ctx, s, w, p, now)
	if look {
		v.withoutActs()
	}
	shape := fnv.New64a()
	for _, piece := range v.pieces() {
		_, _ = shape.Write([]byte("\x00" + piece.id)) // never fails
	}
	v.Shape = strconv.FormatUint(shape.Sum64(), 36)
	return v
}

// withoutActs takes from v what only somebody needs who may act.
func (v *frontView) withoutActs() {
	v.Alarms.ToTake = nil
	for _, all := range [][]alarmView{v.Alarms.Open, v.Aside.Aside} {
		for i := range all {
			all[i].CanTake, all[i].CanShelve, all[i].CanReturn, all[i].CanBack = false, false, false, false
		}
	}
	for i := range v.Houses {
		v.Houses[i].Vents, v.Houses[i].Seasons = nil, nil
	}
	for i := range v.Controls {
		for j := range v.Controls[i].Drives {
			v.Controls[i].Drives[j].Trial, v.Controls[i].Drives[j].Tried = "", ""
		}
		for j := range v.Controls[i].Selectors {
			v.Controls[i].Selectors[j].Others = nil
		}
	}
}

// logCache keeps the newest log lines between drawings.
type logCache struct {
	key   string
	at    time.Time
	lines []alarms.Transition
	bad   bool
}

func (c *logCache) view(ctx context.Context, s *Server, w words.Words, p alarms.Picture, now time.Time) logView {
	key := ""
	for _, a := range p.Alarms {
		key += a.Transition + "\x00"
	}
	if c.at.IsZero() || key != c.key || time.Since(c.at) > logRefresh {
		// A browser that goes away must not spoil what is kept for the others.
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), frontWait)
		defer cancel()
		lines, err := s.watch.Log(ctx, service.LogOther, now.Add(time.Second), frontLog)
		c.key, c.at, c.lines, c.bad = key, time.Now(), lines, err != nil
		if err != nil {
			s.log.Error().Err(err).Msg("the page cannot read the log of alarms")
		}
	}
	return logView{Lines: tendLines(w, c.lines, now), Failed: c.bad}
}

func (s *Server) front(w http.ResponseWriter, r *http.Request) error {
	say := s.wordsOf(r)
	v := s.frontView(r.Context(), say, !s.door.MayAct(r), &logCache{})
	v.frame = s.frame(r, "")
	v.Said = s.wordsOf(r).Say(sayings[r.URL.Query().Get("said")])
	v.Who, v.HasLine = rememberedName(r), s.hasLine()
	v.Past = v.Top.Still != ""
	wait := 2 * frontWait
	if v.Log.Failed { // the disk does not answer: the houses do not wait for it again
		wait = frontWait / 10
	}
	ctx, cancel := context.WithTimeout(r.Context(), wait)
	defer cancel()
	for _, h := range s.picture(say).Houses {
		v.Charts = append(v.Charts, s.houseCharts(ctx, say, h))
	}
	var err error
	if v.drawn, err = s.views.draw(v, say.Tongue); err != nil {
		return err
	}
	v.Has = drawing{shape: v.Shape, pieces: v.drawn}.marks()
	return s.render(w, r, http.StatusOK, "front", v)
}

// wall is the front page for a screen that hangs somewhere and is read from afar: all
// houses or one, nothing to act with, dimmed at night. With scripts it follows like the
// front page; without, it loads itself again, which is enough for electronic paper.
func (s *Server) wall(w http.ResponseWriter, r *http.Request) error {
	v := s.frontView(r.Context(), s.wordsOf(r), true, &logCache{})
	if of := alarms.HouseID(r.URL.Query().Get("house")); of != "" {
		v.Houses = slices.DeleteFunc(v.Houses, func(h houseView) bool { return h.ID != of })
		if len(v.Houses) == 0 {
			return answer.Say(answer.Absent, "There is no such house.")
		}
	}
	v.frame = s.frame(r, "On the wall")
	v.Past = v.Top.Still != ""
	return s.render(w, r, http.StatusOK, "wall", v)
}
