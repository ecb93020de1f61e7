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
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

//go:embed demo.toml
var demoConfig []byte

const (
	demoSeed  = 7
	demoBegin = 7*time.Hour + 35*time.Minute // after the story's start: what goes before passes unseen
	demoWait  = 30 * time.Minute             // by the garden's time, in which somebody may acknowledge before the demo does
	demoEvery = 20 * time.Minute             // by the garden's time, between lines on how it is
	demoLook  = 50 * time.Millisecond        // real time between two looks at the alarms
)

// demoStory is a hot afternoon, short enough to be watched.
func demoStory() model.Story {
	fan := model.Fault{Kind: model.FanDead, House: "long-house"}
	ridge := model.Fault{Kind: model.ProbeSilent, Probe: "ridge-1"}
	at := func(h, m int) time.Duration { return time.Duration(h-5)*time.Hour + time.Duration(m)*time.Minute }
	return model.Story{
		Name: "demo", Says: "A hot, clear July afternoon.",
		Start: time.Date(2026, time.July, 14, 5, 0, 0, 0, time.UTC), Length: at(18, 0),
		Weather: model.Weather{Fixed: true, Wind: 2, Warmer: 4.5},
		Events: []model.Event{
			{After: at(13, 0), Fault: fan, On: true, Says: "The exhaust fan of Long House dies. Nobody sees it."},
			{After: at(15, 0), Fault: fan, On: false, Says: "The grower, called in from the kitchen, mends the fan."},
			{After: at(16, 0), Fault: ridge, On: true, Says: "The ridge probe falls silent."},
			{After: at(16, 50), Fault: ridge, On: false, Says: "A new battery: the ridge probe is heard again."},
		},
	}
}

type demoFlags struct {
	page  string
	speed float64
	stop  bool
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
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	if err := problems.Err(); err != nil {
		return fmt.Errorf("the demo's own config is bad: %w", err)
	}
	cfg.Store.Directory, cfg.Store.IDFile = filepath.Join(dir, "store"), ""
	cfg.Broker.Address = "127.0.0.1:0"
	d := &demo{out: out, words: cfg.Plan.Words, speed: f.speed, stop: f.stop}
	if f.page != "" {
		cfg.Page.Address = f.page
		return d.play(ctx, cfg)
	}
	err := d.play(ctx, cfg)
	if errors.Is(err, gateway.ErrAddress) {
		cfg.Page.Address = "127.0.0.1:0"
		err = d.play(ctx, cfg)
	}
	return err
}

// demo is one showing.
type demo struct {
	out   io.Writer
	words alarms.Words
	speed float64
	stop  bool

	also  func(alarms.Transition) // hears each transition too; may be nil
	clock *gateway.Clock
	mu    sync.Mutex // guards out
}

func (d *demo) play(ctx context.Context, cfg *config.Config) error {
	story := demoStory()
	sim, err := model.Tell(story, demoSeed)
	if err != nil {
		return err
	}
	begin := story.Start.Add(demoBegin)
	sim.Advance(begin)
	d.clock = gateway.NewSteppedClock(begin, d.speed)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	ready := make(chan gateway.Running, 1)
	watching := make(chan error, 1)
	go func() {
		watching <- gateway.Run(ctx, gateway.Options{
			Config: cfg, Clock: d.clock, Log: zerolog.New(os.Stderr).Level(zerolog.ErrorLevel),
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
