package main

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"telltale/alarms/say"
	"telltale/alarms/walk"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/link"
	"telltale/gateway/model"
	"telltale/gateway/offline"
	"telltale/gateway/record"
)

type simulateFlags struct {
	broker, user, passwordFile, ca string
	story                          string
	speed                          float64
	seed                           uint64
	level                          string
}

func newSimulate() *cobra.Command {
	var f simulateFlags
	c := &cobra.Command{
		Use: "simulate", Short: "Publish the simulated garden to a broker, as its probes would",
		Long: "Publish the simulated garden Thimble Garth to a broker, as its probes would.\n" +
			"Without a story it lives from now on, in the weather of the season.\n\nStories:\n" + stories(),
		Args: alone,
		RunE: func(cmd *cobra.Command, _ []string) error { return f.run(cmd.Context(), cmd.OutOrStdout()) },
	}
	c.Flags().StringVar(&f.broker, "broker", "mqtt://127.0.0.1:1883", "address of the broker, mqtt:// or mqtts://")
	c.Flags().StringVar(&f.user, "user", "", "user name at the broker")
	c.Flags().StringVar(&f.passwordFile, "password-file", "", "file that holds the password")
	c.Flags().StringVar(&f.ca, "ca-file", "", "PEM file of who vouches for the broker; default the system's")
	c.Flags().StringVar(&f.story, "story", "", "what happens; default nothing special")
	c.Flags().Float64Var(&f.speed, "speed", 1, "how many times as fast as real time")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "of weather and noise: the same seed gives the same garden")
	c.Flags().StringVar(&f.level, "log-level", "info", "debug, info, warn or error")
	_ = c.RegisterFlagCompletionFunc("story", cobra.FixedCompletions(names(), cobra.ShellCompDirectiveNoFileComp))
	return c
}

func names() []string {
	return walk.Each(model.Stories(), func(s model.Story) string { return s.Name })
}

func stories() string {
	var b strings.Builder
	for _, s := range model.Stories() {
		fmt.Fprintf(&b, "  %-16s %s\n", s.Name, s.Says)
	}
	return b.String()
}

func (f *simulateFlags) run(ctx context.Context, out io.Writer) error {
	log, err := logger(f.level)
	if err != nil {
		return err
	}
	if f.speed < 1 || f.speed > 1000 {
		return usage(fmt.Errorf("--speed is %g, want 1 to 1000", f.speed))
	}
	o := offline.SimulateOptions{
		Sim: model.ThimbleGarth(time.Now(), f.seed), Clock: gateway.NewClock(time.Now(), f.speed), Log: log,
		Says: func(at time.Time, what string) { fmt.Fprintf(out, "%s %s\n", at.UTC().Format("15:04"), what) },
	}
	if f.story != "" {
		st, ok := model.Find(f.story)
		if !ok {
			return usage(fmt.Errorf("there is no story %q%s", f.story, config.OrList(f.story, names(), "stories")))
		}
		if o.Sim, err = model.Tell(st, f.seed); err != nil {
			return err
		}
		o.Events, o.Start, o.End, o.Clock = st.Events, st.Start, st.Start.Add(st.Length), gateway.NewClock(st.Start, f.speed)
	}
	if o.Link, err = f.link(); err != nil {
		return err
	}
	o.Link.Log = log
	done, err := offline.Simulate(ctx, o)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(out, f.published(done))
	return err
}

// published says what was done.
func (f *simulateFlags) published(s offline.Simulated) string {
	lost, broker := "", f.broker
	if u, err := url.Parse(broker); err == nil {
		broker = u.Redacted()
	}
	if s.Lost > 0 {
		lost = fmt.Sprintf(", which did not take %s more", record.Thousands(uint64(s.Lost)))
	}
	return fmt.Sprintf("Published %s to %s%s: %s of the garden, from %s to %s UTC.", count(s.Taken, "message"), broker, lost,
		say.Locale{}.Span(s.To.Sub(s.From)), s.From.UTC().Format("2 January 15:04"), s.To.UTC().Format("2 January 15:04"))
}

func (f *simulateFlags) link() (link.Options, error) {
	o := link.Options{
		Servers: []string{f.broker}, User: f.user, CAFile: f.ca, ClientID: "thimble-garth-probes",
		CleanSession: true, StateTopic: "thimble-garth/simulation", PublishOnly: true,
	}
	if f.passwordFile != "" {
		text, err := readSecret(f.passwordFile)
		if err != nil {
			return o, err
		}
		o.Password = text
	}
	return o, nil
}
