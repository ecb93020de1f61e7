package main

import (
	"bytes"
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
)

// shown plays the whole demo at speed and returns what it wrote and what
// happened.
func shown(t *testing.T, speed float64) (string, []alarms.Transition) {
	t.Helper()
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	ok(t, problems.Err())
	cfg.Store.Directory = filepath.Join(t.TempDir(), "store")
	cfg.Broker.Address, cfg.Page.Address = "127.0.0.1:0", "127.0.0.1:0"
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Minute)
	defer cancel()
	var out bytes.Buffer
	var all []alarms.Transition
	d := &demo{out: &out, words: cfg.Plan.Words, speed: speed, stop: true, also: func(tr alarms.Transition) { all = append(all, tr) }}
	sim, err := d.past(ctx, cfg)
	ok(t, err)
	ok(t, d.play(ctx, cfg, sim))
	ok(t, ctx.Err())
	return out.String(), all
}

func TestTheDemoTellsItsStoryAndRaisesNoFalseAlarm(t *testing.T) {
	if testing.Short() {
		t.Skip("plays for 20 seconds")
	}
	t.Parallel()
	said, all := shown(t, 1000)
	defer func() {
		if t.Failed() {
			t.Logf("the demo wrote\n%s", said)
		}
	}()

	const heat, ridge = alarms.AlarmID("long-house/bench/temperature/high"), alarms.AlarmID("long-house/ridge/unwatched")
	const fan = alarms.AlarmID("long-house/exhaust/stopped-early")
	clock := func(h, m int) time.Time { return time.Date(2026, time.July, 14, h, m, 0, 0, time.UTC) }
	rest, text := all, said
	for _, step := range []struct {
		what     string
		alarm    alarms.AlarmID
		move     alarms.Move
		level    alarms.Level
		from, to time.Time // when it may be due
	}{
		{"the heat is told", heat, alarms.Raise, alarms.Outer, clock(13, 1), clock(13, 20)},
		{"somebody takes it", heat, alarms.Ack, alarms.Outer, clock(13, 21), clock(13, 35)},
		{"it gets worse", heat, alarms.Worsen, alarms.Inner, clock(13, 30), clock(14, 30)},
		{"somebody takes that too", heat, alarms.Ack, alarms.Inner, clock(13, 50), clock(15, 0)},
		{"the mended fan brings it down", heat, alarms.Return, alarms.Within, clock(15, 1), clock(16, 0)},
		{"the ridge probe is missed", ridge, alarms.Raise, alarms.Inner, clock(16, 3), clock(16, 10)},
		{"it is heard again", ridge, alarms.Return, alarms.Within, clock(16, 50), clock(16, 55)},
	} {
		i := slices.IndexFunc(rest, func(tr alarms.Transition) bool { return tr.Alarm == step.alarm && tr.Move == step.move })
		if i < 0 {
			t.Fatalf("%s: no %v of %s follows in\n%v", step.what, step.move, step.alarm, all)
		}
		tr := rest[i]
		rest = rest[i+1:]
		if tr.Due.Before(step.from) || tr.Due.After(step.to) || tr.Level != step.level {
			t.Errorf("%s: at %v and level %v, want between %v and %v at %v", step.what, tr.Due, tr.Level, step.from, step.to, step.level)
		}
		_, after, found := strings.Cut(text, tr.Sentence)
		if !found {
			t.Errorf("%s: the demo does not go on with %q", step.what, tr.Sentence)
		}
		text = after
	}

	// The thermostat calls a fan that has died: told within minutes of its end,
	// which is about when the heat is, and over when it is mended.
	for move, from := range map[alarms.Move]time.Time{alarms.Raise: clock(13, 0), alarms.Return: clock(15, 0)} {
		i := slices.IndexFunc(all, func(tr alarms.Transition) bool { return tr.Alarm == fan && tr.Move == move })
		if i < 0 {
			t.Errorf("no %v of %s", move, fan)
		} else if due := all[i].Due; due.Before(from) || due.After(from.Add(10*time.Minute)) {
			t.Errorf("%v of %s at %v, want it within 10 min of %v", move, fan, due, from)
		}
	}

	raised := map[alarms.AlarmID]int{}
	for _, tr := range all {
		if tr.Move == alarms.Raise && tr.Alarm != heat+"/ahead" {
			raised[tr.Alarm]++
		}
	}
	// Hours of dry air follow from the heat, and after a week the watch knows the house
	// well enough to see worse coming, or not; no other alarm has a reason.
	want := map[alarms.AlarmID]int{fan: 1, heat: 1, ridge: 1}
	if !maps.Equal(raised, want) {
		t.Errorf("raised were %v, want %v", raised, want)
	}
	for _, line := range []string{
		"Told of alarms: grower by slip. This is a rehearsal (slip): nothing is sent",
		" ok The grower (played by the demo) has taken this and is on the way until ",
	} {
		if !strings.Contains(said, line) {
			t.Errorf("the demo does not say %q", line)
		}
	}
	story := demoStory()
	for _, event := range story.Events {
		if said, now := strings.Contains(said, event.Says), !story.Start.Add(event.After).Before(demoOpens); said != now {
			t.Errorf("the story says %q is %v, want only what comes after the page opened", event.Says, said)
		}
	}
	if !slices.ContainsFunc(all, func(tr alarms.Transition) bool { return tr.Reason.Note == alarms.AwayPlayed && !tr.Told() }) {
		t.Error("the log has no line, told to nobody, that what was before is played")
	}
}
