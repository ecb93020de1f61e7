package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/model"
	"telltale/gateway/offline"
)

// greet says where everything is, and who would be told.
func (d *demo) greet(story model.Story, r gateway.Running, to config.Reach) {
	d.say("Thimble Garth, %s, with seven days behind it. Time runs %.0f times as fast as usual.", demoOpens.Format("2 January 2006, 15:04"), d.speed)
	d.say("The page: http://%s/   The broker: mqtt://%s", r.Page, r.Broker)
	d.say("%s", audience(to))
	d.say("%s Stop with Ctrl-C.\n", story.Says)
}

// audience says who would be told of alarms, and how.
func audience(r config.Reach) string {
	var people, rehearsed []string
	for _, c := range r.Channels {
		if c.Rehearse {
			rehearsed = append(rehearsed, c.Name)
		}
	}
	for _, p := range r.People {
		people = append(people, p.Name+" by "+strings.Join(p.Channels, " and "))
	}
	text := "Told of alarms: " + strings.Join(people, ", ") + "."
	if len(rehearsed) > 0 {
		text += fmt.Sprintf(" This is a rehearsal (%s): nothing is sent, and you read here, after !!, what would be.", strings.Join(rehearsed, ", "))
	}
	return text
}

func (d *demo) simulate(ctx context.Context, sim *model.Sim, story model.Story, r gateway.Running) error {
	end := time.Time{}
	if d.stop {
		end = story.Start.Add(story.Length)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	g, ctx := errgroup.WithContext(ctx)
	g.Go(func() error {
		defer cancel()
		_, err := offline.Simulate(ctx, offline.SimulateOptions{
			Sim: sim, Clock: d.clock, Events: still(story.Events, demoOpens.Sub(story.Start)), Start: story.Start, End: end,
			Heard: func() time.Time { return r.Picture().Newest },
			Says:  func(at time.Time, what string) { d.line(at, "·", what) },
			Log:   demoLog(),
			Link: link.Options{Servers: []string{"mqtt://" + r.Broker}, ClientID: "thimble-garth-probes",
				CleanSession: true, StateTopic: "thimble-garth/simulation", PublishOnly: true},
		})
		return err
	})
	g.Go(func() error { return d.report(ctx, r) })
	return g.Wait()
}

// still are the events from a moment on.
func still(all []model.Event, from time.Duration) []model.Event {
	return slices.DeleteFunc(all, func(e model.Event) bool { return e.After < from })
}

// heard prints what a person would be told.
func (d *demo) heard(t alarms.Transition) {
	if d.also != nil {
		d.also(t)
	}
	mark := "  "
	switch {
	case t.Move == alarms.Return || t.Move == alarms.Ack:
		mark = "ok"
	case t.Told():
		mark = "!!"
	case t.Move == alarms.Suppress || t.Move == alarms.Release:
		return // another alarm says it
	}
	d.line(t.Due, mark, t.Sentence)
}

// report says now and then how it is, and plays the grower where nobody acts
// on the page.
func (d *demo) report(ctx context.Context, r gateway.Running) error {
	tick := time.Tick(demoLook)
	var said time.Time
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick:
		}
		p := r.Picture()
		if p.At.Sub(said) >= demoEvery {
			d.line(p.At, "  ", benches(p, say.In(d.words)))
			said = p.At
		}
		for _, in := range d.grower.takes(p) {
			_ = r.Do(ctx, in) // it may have ended meanwhile, which is no error
		}
	}
}

// grower is the one whom the demo plays: who takes what has waited for long.
type grower struct {
	seen map[waits]time.Time // since when an alarm that is on has waited for somebody, however often it was told; zero: it was taken
}

type waits struct {
	alarm alarms.AlarmID
	level alarms.Level
}

// takes returns what the grower does on seeing p, once for each alarm and level.
func (g *grower) takes(p alarms.Picture) (all []alarms.Input) {
	on := map[waits]time.Time{}
	for w, since := range g.seen {
		if slices.ContainsFunc(p.Alarms, func(a alarms.AlarmPicture) bool { return a.ID == w.alarm }) {
			on[w] = since
		}
	}
	g.seen = on
	for _, a := range p.Alarms {
		if a.State != alarms.Unacknowledged && a.State != alarms.ReturnedUnack {
			continue
		}
		w := waits{a.ID, a.Level}
		if since, ok := on[w]; !ok {
			on[w] = p.At
		} else if !since.IsZero() && p.At.Sub(since) >= demoWait {
			on[w] = time.Time{}
			all = append(all, alarms.Input{Kind: alarms.Acknowledge, Alarm: a.ID, By: "The grower (played by the demo)"})
		}
	}
	return all
}

// benches says how warm the benches are.
func benches(p alarms.Picture, w say.Locale) string {
	var all []string
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			if pl.ID != "bench" {
				continue
			}
			for _, pt := range pl.Points {
				if pt.Quantity == alarms.Temperature && pt.Live {
					all = append(all, fmt.Sprintf("%s %s", h.Name, w.Value(pt.Quantity, pt.Value)))
				}
			}
		}
	}
	if len(all) == 0 {
		return p.Sentence
	}
	return strings.Join(all, ", ") + ". " + p.Sentence
}

func (d *demo) line(at time.Time, mark, text string) {
	d.say("%s %s %s", at.UTC().Format("15:04"), mark, text)
}

func (d *demo) say(format string, args ...any) {
	d.mu.Lock()
	defer d.mu.Unlock()
	fmt.Fprintf(d.out, format+"\n", args...)
}
