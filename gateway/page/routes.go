package page

import (
	"context"
	"net/http"
	"slices"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/api"
	"telltale/gateway/page/service"

	"telltale/gateway/page/answer"

	"github.com/klauspost/compress/gzhttp"
)

// router registers handlers by who may use them.
type router struct {
	s    *Server
	mux  *http.ServeMux
	pack func(http.Handler) http.HandlerFunc
}

// open is for anybody.
func (rt router) open(pattern string, h answer.Handler) {
	rt.long(pattern, rt.s.timely(h))
}

// long is for anybody, for as long as they take what it gives.
func (rt router) long(pattern string, h answer.Handler) {
	rt.register(pattern, rt.pack(rt.s.answer(h)))
}

// stream is for anybody, and never packed: each piece must leave at once.
func (rt router) stream(pattern string, h answer.Handler) {
	rt.register(pattern, rt.s.answer(h))
}

func (rt router) register(pattern string, h http.Handler) {
	rt.s.served = append(rt.s.served, pattern)
	rt.mux.Handle(pattern, h)
}

// leastPacked is the size below which packing does not pay: with its frame an
// answer so small fills one packet either way.
const leastPacked = 1200

// packing packs answers by gzip (RFC 1952) for browsers that accept it. A few
// bytes more or less keep the length of a page from telling what is in it. There
// is no zstd: its coders take more memory than a small board should spend.
func packing() (func(http.Handler) http.HandlerFunc, error) {
	return gzhttp.NewWrapper(gzhttp.MinSize(leastPacked), gzhttp.EnableZstd(false), gzhttp.SuffixETag("-gzip"), gzhttp.RandomJitter(32, 0, false),
		gzhttp.ContentTypes([]string{"text/html", "text/css", "text/javascript", "text/plain", "text/csv",
			"application/json", "application/manifest+json", "image/svg+xml", "application/xml"}))
}

// see is for who is signed in.
func (rt router) see(pattern string, h answer.Handler) { rt.open(pattern, rt.s.door.Signed(h)) }

// act is a form of somebody who may act.
func (rt router) act(pattern string, h answer.Handler) {
	rt.see(pattern, rt.s.door.Acting(answer.Filled(h)))
}

// own is a form about the visitor alone, which changes nothing of the watch.
func (rt router) own(pattern string, h answer.Handler) { rt.see(pattern, answer.Filled(h)) }

// machine is for programs, and for who is signed in.
func (rt router) machine(pattern string, h answer.Handler) { rt.open(pattern, rt.s.door.Program(h)) }

func (s *Server) routes() (http.Handler, error) {
	pack, err := packing()
	if err != nil {
		return nil, err
	}
	rt := router{s: s, mux: http.NewServeMux(), pack: pack}
	for _, part := range []func(router){
		s.baseRoutes,
		s.frontRoutes,
		setup{s}.firstRoutes,
		changes{s}.routes,
		s.dayRoutes,
		s.tendRoutes,
		awayTime{s}.routes,
		drills{s}.routes,
		links{s}.ackRoutes,
		devices{s}.pushRoutes,
		trust{s}.routes,
		s.modemRoutes,
		entrance{s}.accountRoutes,
		keepsakes{s}.reportRoutes,
		keepsakes{s}.downloadRoutes,
		help{s}.routes,
	} {
		part(rt)
	}
	s.api().Register(rt.open)
	rt.open("/", func(http.ResponseWriter, *http.Request) error {
		return answer.Say(answer.Absent, "There is no such page.")
	})
	return rt.mux, nil
}

// baseRoutes are those that every page needs.
func (s *Server) baseRoutes(rt router) {
	rt.open("GET /healthz", s.healthz)
	rt.open("GET /static/{file}", s.static)
	rt.open("GET /sign-in", entrance{s}.signInPage)
	rt.open("POST /sign-in", answer.Filled(entrance{s}.signIn))
	rt.own("POST /sign-out", entrance{s}.signOut)
	rt.stream("GET /live", s.door.Signed(s.live))
	rt.see("GET /signed-in", func(w http.ResponseWriter, _ *http.Request) error {
		w.WriteHeader(http.StatusNoContent)
		return nil
	})
	rt.machine("GET /state.json", s.state)
	if s.options.Metrics != nil {
		rt.machine("GET /metrics", func(w http.ResponseWriter, r *http.Request) error {
			s.options.Metrics.ServeHTTP(w, r)
			return nil
		})
	}
}

func (s *Server) frontRoutes(rt router) {
	rt.see("GET /{$}", s.front)
	rt.see("GET /wall", s.wall)
	rt.act("POST /alarms/acknowledge", acts{s}.acknowledge)
	rt.act("POST /alarms/shelve", acts{s}.shelve)
	rt.act("POST /alarms/unshelve", acts{s}.unshelve)
	rt.act("POST /selector", acts{s}.setSelector)
	rt.act("POST /drive/try", acts{s}.try)
	rt.act("POST /season", acts{s}.setSeason)
	rt.act("POST /probes/out", acts{s}.takeProbeOut)
	rt.act("POST /probes/back", acts{s}.putProbeBack)
	rt.own("POST /name", acts{s}.setName)
	rt.own("POST /degrees", s.setDegrees)
	rt.own("POST /tongue", s.setTongue)
	rt.act("POST /test-message", s.testMessage)
	rt.see("GET /test-message", s.testPage)
}

// tendRoutes are the pages and acts of this feature. The acts on alarms and
// seasons need nothing but the watch.
func (s *Server) tendRoutes(rt router) {
	rt.act("POST /alarms/out", acts{s}.takeAlarmOut)
	rt.act("POST /alarms/back", acts{s}.putAlarmBack)
	rt.act("POST /vents", acts{s}.setVents)
	if !s.tends() {
		return
	}
	rt.see("GET /probes", calibration{s}.probesPage)
	rt.see("GET /probes/{id}", calibration{s}.probePage)
	rt.act("POST /probes/calibrate", calibration{s}.calibrate)
	rt.see("GET /told", records{s}.toldPage)
	rt.see("GET /log", records{s}.logPage)
	rt.see("GET /alarm", records{s}.alarmPage)
	rt.see("GET /loop", records{s}.loopPage)
}

func (s *Server) tends() bool { return s.options.Tending != nil }

// hasLoop reports whether any house has a ground loop.
func (s *Server) hasLoop() bool {
	return s.tends() && slices.ContainsFunc(s.watch.Picture().Houses, func(h alarms.HousePicture) bool { return h.Loop != nil })
}

// api is the interface for programs, which may do what the forms do.
func (s *Server) api() *api.API {
	return &api.API{Watch: s.watch, Tending: s.options.Tending, Untold: s.options.Untold, Words: s.words, Door: s.door, Companion: s.options.Companion, Acts: api.Acts{
		Acknowledge: acts{s}.acknowledge, Shelve: acts{s}.shelveByProgram, Unshelve: acts{s}.unshelve,
		TakeAlarmOut: acts{s}.takeAlarmOut, PutAlarmBack: acts{s}.putAlarmBack, TakeProbeOut: acts{s}.takeProbeOut, PutProbeBack: acts{s}.putProbeBack,
		SetSeason: acts{s}.setSeason, SendTest: s.sendTest,
		Tested: func(ctx context.Context, id string) ([]service.Telling, bool, error) {
			all, err := s.testOutcome(ctx, id, testWait)
			return all, tallied(all).waiting == 0, err
		}}}
}

// navLink is one entry of the navigation.
type navLink struct {
	Address, Words string
	Here           bool // the page that is shown
}

// navEntry is a page that the navigation offers where shown holds; nil: always.
type navEntry struct {
	address string
	words   tongue.Text
	shown   func(*Server) bool
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
		{"/drill", "Drill", func(s *Server) bool { return s.options.Drill != nil }},
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
	w := s.wordsOf(r)
	var out []navLink
	for _, e := range navEntries() {
		if e.address == "/first" && !s.door.MayAct(r) {
			continue // all of it acts
		}
		if e.shown == nil || e.shown(s) {
			out = append(out, navLink{e.address, w.Say(e.words), r.URL.Path == e.address})
		}
	}
	return out
}
