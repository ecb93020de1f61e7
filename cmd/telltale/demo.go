package main

import (
	"context"
	_ "embed" // the demo's config
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/model"
	"telltale/gateway/offline"
)

//go:embed demo.toml
var demoConfig []byte

const (
	demoSeed  = 7
	demoPast  = 7 * 24 * time.Hour    // that are played before the page opens, to look back on
	demoFine  = 3 * time.Hour         // of them with every reading, as it is live
	demoWait  = 20 * time.Minute      // by the garden's time, in which somebody may acknowledge before the demo does
	demoEvery = 20 * time.Minute      // by the garden's time, between lines on how it is
	demoLook  = 50 * time.Millisecond // real time between two looks at the alarms
)

// demoOpens is when the page opens on the demo's garden.
var demoOpens = time.Date(2026, time.July, 14, 12, 35, 0, 0, time.UTC)

// demoStory is a July week, and the hot afternoon after it, short enough to be watched.
func demoStory() model.Story {
	fan := model.Fault{Kind: model.FanDead, House: "long-house"}
	ridge := model.Fault{Kind: model.ProbeSilent, Probe: "ridge-1"}
	second := model.Fault{Kind: model.ProbeSilent, Probe: "bench-2"}
	shutter := model.Fault{Kind: model.ShutterStuckClosed, House: "long-house"}
	start := demoOpens.Add(-demoPast)
	at := func(day, h, m int) time.Duration {
		return time.Date(2026, time.July, day, h, m, 0, 0, time.UTC).Sub(start)
	}
	return model.Story{
		Name: "demo", Says: "A hot, clear July afternoon.",
		Start: start, Length: at(14, 18, 0),
		Weather: model.Weather{Fixed: true, Wind: 2, Warmer: 4.7, From: time.Date(2026, time.July, 13, 0, 0, 0, 0, time.UTC)},
		Events: []model.Event{
			{After: at(9, 20, 40), Fault: second, On: true, Says: "The second bench probe of Long House falls silent."},
			{After: at(9, 21, 55), Fault: second, On: false, Says: "A new battery: the second bench probe is heard again."},
			{After: at(11, 12, 30), Fault: shutter, On: true, Says: "The intake shutter of Long House sticks closed."},
			{After: at(11, 13, 50), Fault: shutter, On: false, Says: "The shutter moves again."},
			{After: at(14, 13, 0), Fault: fan, On: true, Says: "The exhaust fan of Long House dies. Nobody sees it."},
			{After: at(14, 15, 0), Fault: fan, On: false, Says: "The grower, called in from the kitchen, mends the fan."},
			{After: at(14, 16, 0), Fault: ridge, On: true, Says: "The ridge probe falls silent."},
			{After: at(14, 16, 50), Fault: ridge, On: false, Says: "A new battery: the ridge probe is heard again."},
		},
	}
}

type demoFlags struct {
	page  string
	speed float64
	stop  bool
	pair  bool
}

func newDemo() *cobra.Command {
	var f demoFlags
	c := &cobra.Command{
		Use: "demo", Short: "Watch a simulated garden on fast time, with everything built in",
		Long: "Watch the simulated garden Thimble Garth on fast time: a broker, its probes, the watch and\n" +
			"its page, all in this one program. Nothing is left behind.",
		Args: alone,
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd.Context(), cmd.OutOrStdout()) },
	}
	c.Flags().StringVar(&f.page, "page", "", "address of the page; default 127.0.0.1:8470, or a free port")
	c.Flags().Float64Var(&f.speed, "speed", 240, "how many times as fast as real time")
	c.Flags().BoolVar(&f.pair, "companion", false, "play two boards instead: a watch that loses its power, and its companion")
	c.Flags().BoolVar(&f.stop, "stop", false, "stop when the story is over instead of going on until interrupted")
	return c
}

func (f *demoFlags) run(ctx context.Context, out io.Writer) error {
	if f.speed < 1 || f.speed > 1000 {
		return usage(fmt.Errorf("--speed is %g, want 1 to 1000", f.speed))
	}
	dir, err := os.MkdirTemp("", "telltale-demo-")
	if err != nil {
		return fmt.Errorf("%w: %w", gateway.ErrStore, err)
	}
	if err := errors.Join(f.show(ctx, out, dir), os.RemoveAll(dir)); err != nil {
		return err
	}
	_, err = fmt.Fprintln(out, "Stopped. Nothing is left behind.")
	return err
}

// show plays the demo with its store in dir.
func (f *demoFlags) show(ctx context.Context, out io.Writer, dir string) error {
	if f.pair {
		return f.showPair(ctx, out, dir)
	}
	cfg, err := demoGarden()
	if err != nil {
		return err
	}
	cfg.Store.Directory, cfg.Store.IDFile = filepath.Join(dir, "store"), ""
	cfg.Broker.Address = "127.0.0.1:0"
	d := &demo{out: out, words: cfg.Plan.Words, speed: f.speed, stop: f.stop}
	if f.page != "" {
		cfg.Page.Address = f.page
	}
	sim, err := d.past(ctx, cfg)
	if err != nil {
		return err
	}
	err = d.play(ctx, cfg, sim)
	if errors.Is(err, gateway.ErrAddress) && f.page == "" {
		cfg.Page.Address = "127.0.0.1:0"
		err = d.play(ctx, cfg, sim)
	}
	return err
}

// demoGarden is the demo's config.
func demoGarden() (*config.Config, error) {
	c, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	if err := problems.Err(); err != nil {
		return nil, fmt.Errorf("the demo's own config is bad: %w", err)
	}
	return c, nil
}

// showPair plays the demo of two boards with their stores in dir.
func (f *demoFlags) showPair(ctx context.Context, out io.Writer, dir string) error {
	p := &pair{demo: &demo{out: out, speed: f.speed}, dir: dir, page: f.page}
	if f.stop {
		p.ends = pairEnds
	}
	return p.show(ctx)
}

// demo is one showing.
type demo struct {
	out   io.Writer
	words alarms.Words
	speed float64
	stop  bool

	also   func(alarms.Transition) // hears each transition too; may be nil
	clock  *gateway.Clock
	grower grower
	mu     sync.Mutex // guards out
}

// past plays the days before the page opens, and returns the garden as they leave it.
func (d *demo) past(ctx context.Context, cfg *config.Config) (*model.Sim, error) {
	sim, err := model.Tell(demoStory(), demoSeed)
	if err != nil {
		return nil, err
	}
	d.say("Playing the seven days before, to look back on ...")
	return sim, offline.Past(ctx, offline.PastOptions{
		Config: cfg, Sim: sim, From: demoOpens.Add(-demoPast), Fine: demoOpens.Add(-demoFine), To: demoOpens, Tends: d.grower.takes, Log: demoLog(),
	})
}

func demoLog() zerolog.Logger { return zerolog.New(os.Stderr).Level(zerolog.ErrorLevel) }

func (d *demo) play(ctx context.Context, cfg *config.Config, sim *model.Sim) error {
	story := demoStory()
	d.clock = gateway.NewSteppedClock(demoOpens, d.speed)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ready := make(chan gateway.Running, 1)
	watching := make(chan error, 1)
	go func() {
		watching <- gateway.Run(ctx, gateway.Options{
			Config: cfg, Clock: d.clock, Log: demoLog(), Played: d.played,
			Heard: d.heard, Ready: func(r gateway.Running) { ready <- r },
		})
	}()
	select {
	case err := <-watching:
		return err
	case r := <-ready:
		d.greet(story, r, cfg.Reach)
		err := d.simulate(ctx, sim, story, r)
		cancel()
		return errors.Join(err, <-watching)
	}
}

// played is what every page says of the demo.
func (d *demo) played(in tongue.Tongue) string {
	return in.Say("A demo: this garden is played, %.0f times as fast as real time, with seven days behind it. Nobody is told of anything.", d.speed)
}
