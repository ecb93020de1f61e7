package offline

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"telltale/alarms/ground"
	"telltale/gateway/config"
	"telltale/gateway/record"
)

// TestFitGroundFindsTheSoil writes a year of two outlets as the published
// equation has it, with the fan off and the pipes as warm as the house for a
// part of each day, and demands the soil back.
func TestFitGroundFindsTheSoil(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "config", "good", "ground-loop.toml"))
	if err != nil {
		t.Fatal(err)
	}
	cfg, problems := config.Parse("ground-loop.toml", text, func(string) (string, bool) { return "https://example.org/beat", true })
	if problems.Err() != nil {
		t.Fatal(problems)
	}
	cfg.Plan.Houses = cfg.Plan.Houses[:1]
	l := cfg.Plan.Houses[0].Loop
	soil := ground.Soil{Mean: 11, Swing: 9, Coldest: 35, Diffusivity: 0.05}
	var b strings.Builder
	b.WriteString("time,fan,upper,lower\n")
	begin := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	for h := range 365 * 12 {
		at := begin.Add(time.Duration(2*h) * time.Hour)
		fan, upper, lower := 0.0, 25.0, 25.0
		if h%12 > 3 {
			fan = l.Runs.Above.Value + 1
			noise := 0.2 * math.Sin(float64(h*h%97))
			upper = soil.At(l.Pipes[0].Depth, ground.Day(at)) + noise
			lower = soil.At(l.Pipes[1].Depth, ground.Day(at)) - noise
		}
		fmt.Fprintf(&b, "%s,%.3f,%.3f,%.3f\n", at.Format(time.RFC3339), fan, upper, lower)
	}
	file := filepath.Join(t.TempDir(), "year.csv")
	if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	o := ReplayOptions{Config: cfg, Files: []string{file}, Table: record.Options{Time: "time"}}
	for header, what := range map[string]string{
		"fan":   string(l.Runs.Probe) + "/" + string(l.Runs.Quantity),
		"upper": outletProbe(cfg, 0) + "/temperature", "lower": outletProbe(cfg, 1) + "/temperature",
	} {
		c, err := ParseColumn(header + "=" + what)
		if err != nil {
			t.Fatal(err)
		}
		o.Columns = append(o.Columns, c)
	}
	r, err := OpenRecording(o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	all, err := FitGround(r)
	if err != nil || len(all) != 1 || all[0].Err != nil {
		t.Fatalf("%+v, %v", all, err)
	}
	fit := all[0].Fit
	for name, pair := range map[string][2]float64{
		"mean": {fit.Mean.Value, soil.Mean}, "swing": {fit.Swing.Value, soil.Swing},
		"coldest": {fit.Coldest.Value, soil.Coldest}, "diffusivity": {100 * fit.Diffusivity.Value, 100 * soil.Diffusivity},
	} {
		if math.Abs(pair[0]-pair[1]) > 0.05*math.Abs(pair[1])+0.5 {
			t.Errorf("%s: fitted %.3f, the soil has %.3f", name, pair[0], pair[1])
		}
	}
}

func outletProbe(c *config.Config, pipe int) string {
	for _, p := range c.Plan.Houses[0].Places {
		if p.ID == c.Plan.Houses[0].Loop.Pipes[pipe].Outlet {
			return string(p.Probes[0].ID)
		}
	}
	return ""
}
