package edit

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
)

// keepers makes a random edit and returns what must then be so in the parsed
// file, and how many lines may have been replaced.
func randomEdit(r *rand.Rand, d *Draft, c *config.Config) (what string, check func(*config.Config) bool, replaced int) {
	h := c.Plan.Houses[r.IntN(len(c.Plan.Houses))]
	pl := h.Places[r.IntN(len(h.Places))]
	house, place := string(h.ID), string(pl.ID)
	switch r.IntN(5) {
	case 0:
		name := fmt.Sprintf("garden %d", r.IntN(100))
		d.SetPageName(name)
		return "page name", func(c *config.Config) bool { return c.Page.Name == name }, 1
	case 1:
		name := fmt.Sprintf("house \"%d\" \\ ä", r.IntN(100))
		d.SetHouse(HouseEdit{ID: house, Name: name})
		return "house name", func(c *config.Config) bool {
			return slices.ContainsFunc(c.Plan.Houses, func(h alarms.House) bool { return string(h.ID) == house && h.Name == name })
		}, 1
	case 2:
		id := d.NewPlaceID(house, "corner")
		probe := d.NewProbeID("corner")
		topic := fmt.Sprintf("corner/%d/%d", r.IntN(1000), len(d.Text()))
		d.SetPlace(PlaceEdit{House: house, ID: id, Limits: []LimitEdit{{Quantity: alarms.Temperature, High: p(85)}}})
		d.SetProbe(ProbeEdit{ID: probe, House: house, Place: id, Topic: topic, Form: "json", Reads: []decode.Read{{Quantity: alarms.Temperature, At: "/t~1x"}}})
		return "new probe " + probe, func(c *config.Config) bool {
			return slices.ContainsFunc(c.Sources, func(s decode.Source) bool {
				return string(s.Probe) == probe && s.Filter == topic && s.Reads[0].At == "/t~1x"
			})
		}, 0
	case 3:
		name := fmt.Sprintf("place %d", r.IntN(100))
		d.SetPlace(PlaceEdit{House: house, ID: place, Name: name})
		return "place name", func(c *config.Config) bool {
			return slices.ContainsFunc(c.Plan.Houses, func(h alarms.House) bool {
				return string(h.ID) == house && slices.ContainsFunc(h.Places, func(p alarms.Place) bool { return string(p.ID) == place && p.Name == name })
			})
		}, 1
	}
	id := d.NewPersonID("Ben")
	name := "Ben " + id
	d.SetPerson(PersonEdit{ID: id, Name: name, Mail: "ben@example.org", Channels: []string{c.Reach.Channels[0].Name}})
	d.Tell(id)
	return "person " + id, func(c *config.Config) bool {
		return slices.ContainsFunc(c.Reach.Tell, func(t config.Tell) bool { return slices.Contains(t.People, id) })
	}, 0
}

// goldens are whole files that the watch runs with, and a tight and an odd one.
func goldens(t *testing.T) map[string]string {
	out := map[string]string{}
	files, err := filepath.Glob("../../../testdata/config/good/*.toml")
	if err != nil || len(files) < 5 {
		t.Fatalf("found %d files, %v", len(files), err)
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(f)] = string(data)
		out[filepath.Base(f)+", tight"] = strings.ReplaceAll(string(data), "\n\n", "\n")
		out[filepath.Base(f)+", as on another system"] = strings.TrimSuffix(strings.ReplaceAll(string(data), "\n", "\r\n"), "\r\n")
	}
	return out
}

func TestRandomEditsLeaveAllOtherLinesAlone(t *testing.T) {
	texts := goldens(t)
	for name, text := range texts {
		t.Run(name, func(t *testing.T) {
			for seed := range sample(uint64(4), 40) {
				editAtRandom(t, text, seed)
			}
		})
	}
}

func editAtRandom(t *testing.T, text string, seed uint64) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 7))
	d := draft(t, text)
	var checks []func(*config.Config) bool
	var done []string
	for range 1 + r.IntN(4) {
		c, problems := d.Config()
		if c == nil {
			t.Fatalf("seed %d, after %q: %v\n%s", seed, done, problems, d.Text())
		}
		before := d.Text()
		what, check, most := randomEdit(r, d, c)
		done = append(done, what)
		if gone := missing(lines2(before), lines2(d.Text())); len(gone) > most {
			t.Fatalf("seed %d, %q: the lines %q are gone", seed, done, gone)
		}
		checks = append(checks, check)
	}
	c, problems := d.Config()
	if c == nil {
		t.Fatalf("seed %d, after %q: %v\n%s", seed, done, problems, d.Text())
	}
	if last := checks[len(checks)-1]; !last(c) {
		t.Errorf("seed %d: %q is not so in\n%s", seed, done, d.Text())
	}
}

func lines2(text string) []string { return strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n") }

// missing are the lines of a that are not in b in the same order.
func missing(a, b []string) []string {
	var out []string
	for _, l := range middle(a, b, 0) {
		if l.Move == '-' {
			out = append(out, l.Text)
		}
	}
	return out
}
