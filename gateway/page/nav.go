package page

import "net/http"

// navLink is one entry of the navigation.
type navLink struct {
	Address, Words string
	Here           bool // the page that is shown
}

// navEntry is a page that the navigation offers where shown holds; nil: always.
type navEntry struct {
	address, words string
	shown          func(*Server) bool
}

func navEntries() []navEntry {
	return []navEntry{
		{"/", "Now", nil},
		{"/back", "Look back", (*Server).looksBack},
		{"/log", "Log", (*Server).tends},
		{"/report", "Report", (*Server).reports},
		{"/download", "Download", (*Server).downloads},
		{"/probes", "Probes", (*Server).tends},
		{"/told", "Who was told", (*Server).tends},
		{"/away", "Who is away", (*Server).hasLine},
		{"/modem", "Modem", (*Server).hasModem},
		{"/device", "This device", (*Server).pushes},
		{"/loop", "Ground loop", (*Server).hasLoop},
		{"/first", "Set up", (*Server).setsUp},
		{"/account", "Your account", (*Server).hasAccounts},
		{"/help", "Help", nil},
	}
}

// navigation lists the pages that r's visitor can go to.
func (s *Server) navigation(r *http.Request) []navLink {
	if s.door.MustSignIn(r) {
		return nil
	}
	var out []navLink
	for _, e := range navEntries() {
		if e.address == "/first" && !s.door.MayAct(r) {
			continue // all of it acts
		}
		if e.shown == nil || e.shown(s) {
			out = append(out, navLink{e.address, e.words, r.URL.Path == e.address})
		}
	}
	return out
}
