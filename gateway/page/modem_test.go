package page

import (
	"net/http"
	"strings"
	"testing"

	"telltale/gateway/modem"
)

// fakeModem is a modem in some state.
type fakeModem struct{ state ModemState }

func (f fakeModem) ModemState() ModemState { return f.state }

func goodModem() ModemState {
	level := -73
	return ModemState{State: modem.State{Present: true, Ready: true, Identity: "A modem", SIM: "ready", Network: "in its home network", Operator: "Thimble Net",
		Signal: &level, Centre: "+447700900000", Places: 30, SentToday: 4, MostPerDay: 50, Sent: 9, Delivered: 8}}
}

func TestModemPage(t *testing.T) {
	bad := goodModem()
	level := -109
	bad.Ready, bad.Signal, bad.Network, bad.LastError = false, &level, "searching for a network", "the modem is in no network; check antenna, place and SIM"
	for _, c := range []struct {
		name  string
		give  ModemState
		wants []string
		not   string
	}{
		{"ready", goodModem(), []string{"A text message could go out now.", "−73\u00a0dBm, enough", "Thimble Net", "4 of 50"}, "is-bad"},
		{"no network", bad, []string{"No text message could go out now: the modem is in no network", "very weak", `class="is-bad"`}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := start(t, Options{Watch: newFake(), Modem: fakeModem{c.give}})
			resp, text := s.get("/modem")
			if resp.StatusCode != http.StatusOK {
				t.Fatalf("got %s", resp.Status)
			}
			for _, want := range c.wants {
				if !strings.Contains(text, want) {
					t.Errorf("the page lacks %q:\n%s", want, text)
				}
			}
			if c.not != "" && strings.Contains(text, c.not) {
				t.Errorf("the page has %q", c.not)
			}
			if _, front := s.get("/"); !strings.Contains(front, `href="/modem"`) {
				t.Error("the navigation lacks the modem")
			}
		})
	}
	s := start(t, Options{Watch: newFake()})
	if resp, _ := s.get("/modem"); resp.StatusCode != http.StatusNotFound {
		t.Errorf("without a modem its page answers %s", resp.Status)
	}
	if _, front := s.get("/"); strings.Contains(front, `href="/modem"`) {
		t.Error("the navigation has a modem that is not there")
	}
}
