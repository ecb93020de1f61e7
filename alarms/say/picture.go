package say

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Picture is pic with all that is in words: whether all is well, what each house,
// place, drive and alarm does. It shares what it does not change with pic.
func Picture(p *alarms.Plan, pic alarms.Picture, m Locale) alarms.Picture {
	s := speaker{Locale: m, plan: p}
	pic.Alarms = each(pic.Alarms, func(a *alarms.AlarmPicture) {
		if a.Told = s.told(a.Last); a.Told == "" {
			a.Told = s.title(&a.Of) + "."
		}
		a.Title, a.First, a.Left = s.title(&a.Of), s.first(a), s.left(a, &pic)
		a.Sentence = s.alarm(a, &pic)
	})
	pic.Houses = each(pic.Houses, func(h *alarms.HousePicture) { s.drawHouse(h, &pic) })
	pic.Sentence = s.overall(&pic)
	return pic
}

// each returns a copy of list with f done to every item; a picture is shared.
func each[T any](list []T, f func(*T)) []T {
	list = slices.Clone(list)
	for i := range list {
		f(&list[i])
	}
	return list
}

func (s *speaker) drawHouse(hp *alarms.HousePicture, pic *alarms.Picture) {
	h := s.house(hp.ID)
	hp.Places = each(hp.Places, func(p *alarms.PlacePicture) {
		s.drawPlace(s.place(h, p.ID), p)
		expectations{s.Locale}.draw(p, pic.At)
		s.drawNear(h, hp, p)
		s.drawHand(h, p.Outlook, pic.At)
	})
	hp.Drives = each(hp.Drives, func(d *alarms.DrivePicture) {
		w := drawn{controls{s, h}, d, hp.Season, pic.At}
		d.Wish, d.Does, d.UsualDraw = w.wish(), w.doing(), w.usualDraw()
		if !d.TrialUntil.IsZero() {
			d.TrialBy = s.orSomebody(d.TrialBy)
		}
		d.Sentence = w.sentence()
	})
	hp.Openings = each(hp.Openings, func(o *alarms.OpeningPicture) { o.Sentence = s.openingNow(o, pic.At) })
	if hp.Loop != nil {
		l := *hp.Loop
		w := pipes{s.Locale}
		l.Pipes = each(l.Pipes, func(p *alarms.PipePicture) { p.Sentence = w.pipe(p) })
		l.Sentence, l.Depths, l.Sums = w.now(&l)+w.byHand(&l), w.betterDepth(&l), w.sums(&l)+w.ways(&l)
		hp.Loop = &l
	}
	hp.InSeason = s.inSeason(h, hp)
	hp.Sentence = s.houseNow(hp, pic)
}

func (s *speaker) drawPlace(p *alarms.Place, pp *alarms.PlacePicture) {
	pp.Points = each(pp.Points, func(q *alarms.PointPicture) { q.Shows = s.shows(q.Seen, q.Shows) })
	pp.Probes = each(pp.Probes, func(pr *alarms.ProbePicture) {
		pr.Values = each(pr.Values, func(v *alarms.ProbeValue) { v.Shows = s.shows(v.Seen, v.Shows) })
		pr.Calibrations = each(pr.Calibrations, func(c *alarms.CalibrationPicture) {
			c.Sentence = s.correction(c.Quantity, c.Offset, c.By, c.Note)
		})
	})
	pp.Exposures = each(pp.Exposures, func(x *alarms.ExposurePicture) {
		if plan := s.exposure(p, x.ID); plan != nil {
			x.Sentence = doses{s.Locale}.soFarOf(plan, &x.ExposureReason) + "."
		}
	})
}

// shows is what a contact says of its drive: "is open", "runs".
func (s *speaker) shows(by *alarms.Seen, std string) string {
	switch {
	case by == nil:
		return std
	case by.Runs:
		return s.say(verbs(by.Kind).runs)
	}
	return s.say(verbs(by.Kind).stands)
}

const allWell tongue.Text = "All is well"

// houseNow is the state of one house in a sentence.
func (s *speaker) houseNow(hp *alarms.HousePicture, pic *alarms.Picture) string {
	var aside []string
	for _, t := range hp.Trials {
		aside = append(aside, s.tries(s.house(hp.ID), t, s.say(" of %s", hp.Name), pic.At))
	}
	if put := s.aside(hp.ID, pic); put != "" {
		aside = append(aside, put)
	}
	told := s.toldNow(hp, pic)
	switch {
	case len(aside) == 0:
		return told
	case strings.HasPrefix(told, s.say(allWell)):
		return strings.Join(aside, " ")
	}
	return told + " " + strings.Join(aside, " ")
}

// toldNow is houseNow without what was put aside.
func (s *speaker) toldNow(hp *alarms.HousePicture, pic *alarms.Picture) string {
	active := 0
	var first *alarms.AlarmPicture
	for i := range pic.Alarms {
		a := &pic.Alarms[i]
		if a.House != hp.ID || !a.State.Active() {
			continue
		}
		if active++; first == nil {
			first = a
		}
	}
	switch {
	case !pic.Link:
		return s.say("%s cannot be seen: the broker is not reached.", hp.Name)
	case active == 1:
		return s.title(&first.Of) + "."
	case active == 2:
		return s.say("%s, and one other alarm.", s.title(&first.Of))
	case active > 2:
		return s.say("%s, and %d other alarms.", s.title(&first.Of), active-1)
	case !slices.ContainsFunc(hp.Places, func(p alarms.PlacePicture) bool { return len(p.Probes) > 0 }):
		return s.say("%s has no probe yet, so nothing watches it.", hp.Name)
	case hp.Dark && hp.Newest.IsZero():
		return s.say("%s: no reading has arrived yet.", hp.Name)
	case hp.Dark:
		return s.say("%s cannot be seen: no probe reports.", hp.Name)
	}
	return s.say("%s in %s.", s.say(allWell), hp.Name)
}

// overall answers "is all well?" for all houses.
func (s *speaker) overall(pic *alarms.Picture) string {
	var bad []string
	for _, h := range worstFirst(pic) {
		if !strings.HasPrefix(h.Sentence, s.say(allWell)) {
			bad = append(bad, h.Sentence)
		}
	}
	if aside := s.aside("", pic); aside != "" {
		bad = append(bad, aside)
	}
	switch {
	case !pic.Link:
		return s.say("The broker has not been reached since %s: nothing is being watched.", s.Clock(pic.LinkSince, pic.At))
	case pic.Unsteady:
		for i := range pic.Alarms {
			if a := &pic.Alarms[i]; a.Rule == alarms.RuleLink {
				bad = slices.Insert(bad, 0, a.Told)
			}
		}
	case len(pic.Houses) == 0:
		return s.say("No house is set up yet.")
	case len(bad) == 0:
		return s.say("All is well.")
	}
	return strings.Join(bad, " ")
}

// worstFirst are the houses of pic, those with the worst alarms first.
func worstFirst(pic *alarms.Picture) []*alarms.HousePicture {
	var all []*alarms.HousePicture
	for i := range pic.Houses {
		all = append(all, &pic.Houses[i])
	}
	first := func(h *alarms.HousePicture) int {
		if i := slices.IndexFunc(pic.Alarms, func(a alarms.AlarmPicture) bool { return a.House == h.ID && a.State.Active() }); i >= 0 {
			return i
		}
		return len(pic.Alarms)
	}
	slices.SortStableFunc(all, func(a, b *alarms.HousePicture) int { return cmp.Compare(first(a), first(b)) })
	return all
}

// aside names what of a house ("": of the watch itself) somebody put aside and is
// still so, to end a sentence on how things are; "" for nothing. What is not told
// must not be taken for well.
func (s *speaker) aside(of alarms.HouseID, pic *alarms.Picture) string {
	var put []*alarms.AlarmPicture
	for i := range pic.Alarms {
		if a := &pic.Alarms[i]; a.House == of && a.StillAside() {
			put = append(put, a)
		}
	}
	if len(put) == 0 {
		return ""
	}
	slices.SortFunc(put, func(a, b *alarms.AlarmPicture) int { return cmp.Compare(a.ID, b.ID) })
	var all []string
	for _, a := range put {
		how := ""
		if a.Gauge != nil {
			how = s.say("%s now, ", s.Value(a.Quantity, *a.Gauge))
		}
		if a.State == alarms.Shelved {
			how += s.say("shelved until %s", s.Clock(a.Until, pic.At))
		} else {
			how += s.say("out of service")
		}
		all = append(all, s.title(&a.Of)+" ("+how+")")
	}
	return s.say("Put aside, and still so: %s.", strings.Join(all, "; "))
}

// inSeason says what of h is not expected or not judged in its season, and why.
func (s *speaker) inSeason(h *alarms.House, hp *alarms.HousePicture) []string {
	var all []string
	off := map[alarms.DriveID]bool{} // the cover is known to be
	for i := range hp.Drives {
		d := &hp.Drives[i]
		switch off[d.ID] = d.Covers.Known && !d.Covers.On; {
		case d.Covers.On:
			all = append(all, s.say("The vent of the %s is covered, so it must not run; if it does, that is told.", d.Name))
		case d.Covers.Known:
		case slices.Contains(s.drive(h, d.ID).Barred, hp.Season):
			all = append(all, s.say("The %s must not run in this season; if it does, that is told.", d.Name))
		}
	}
	for i := range h.Controls {
		for _, st := range h.Controls[i].Stages {
			acts := st.Mode.Above() && slices.ContainsFunc(st.Drives, func(id alarms.DriveID) bool { return off[id] })
			if len(st.Seasons) > 0 && !slices.Contains(st.Seasons, hp.Season) && !acts {
				all = append(all, s.say("The stage %s of the %s is not judged: it does not act in this season.", st.Name, h.Controls[i].Name))
			}
		}
	}
	for i := range hp.Slow {
		all = append(all, s.slow(&hp.Slow[i]))
	}
	return all
}

// openingNow says how a door, a window or a lid stands.
func (s *speaker) openingNow(o *alarms.OpeningPicture, now time.Time) string {
	name, was := s.withThe(o.Name), s.say("shut|a door")
	if o.Open {
		was = s.say("open|a door")
	}
	switch {
	case o.State != alarms.StateUnknown:
		return capital(s.say("%s has been %s since %s.", name, was, s.Clock(o.Since, now)))
	case o.Since.IsZero():
		return s.say("Whether %s is open is not known: its contact has not been heard yet.", name)
	}
	return s.say("Whether %s is open is not known: its contact was last heard at %s, and it was %s then.", name, s.Clock(o.Since, now), was)
}
