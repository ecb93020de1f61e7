package page

import (
	"net/http"
	"strings"
)

// router registers handlers by who may use them.
type router struct {
	s   *Server
	mux *http.ServeMux
}

// open is for anybody.
func (rt router) open(pattern string, h handler) {
	rt.long(pattern, rt.s.timely(h))
}

// long is for anybody, for as long as they take what it gives.
func (rt router) long(pattern string, h handler) {
	rt.s.served = append(rt.s.served, pattern)
	rt.mux.Handle(pattern, rt.s.answer(h))
}

// page is a page for who is signed in, which a link from elsewhere may open.
func (rt router) page(pattern string, h handler) { rt.open(pattern, rt.s.revisit(rt.s.signed(h))) }

// see is anything else for who is signed in.
func (rt router) see(pattern string, h handler) { rt.open(pattern, rt.s.signed(h)) }

// act is a form of somebody who may act.
func (rt router) act(pattern string, h handler) {
	rt.s.acts[strings.TrimPrefix(pattern, "POST ")] = true
	rt.see(pattern, rt.s.acting(rt.s.tokened(h)))
}

// own is a form about the visitor alone, which changes nothing of the watch.
func (rt router) own(pattern string, h handler) { rt.see(pattern, rt.s.tokened(h)) }

// machine is for programs, and for who is signed in.
func (rt router) machine(pattern string, h handler) { rt.open(pattern, rt.s.machine(h)) }

func (s *Server) routes() http.Handler {
	rt := router{s: s, mux: http.NewServeMux()}
	for _, part := range []func(router){
		s.baseRoutes,
		s.frontRoutes,
		s.firstRoutes,
		s.dayRoutes,
		s.tendRoutes,
		s.tapRoutes,
		s.pushRoutes,
		s.modemRoutes,
		s.accountRoutes,
		s.apiRoutes,
		s.reportRoutes,
		s.downloadRoutes,
	} {
		part(rt)
	}
	rt.open("/", func(http.ResponseWriter, *http.Request) error {
		return faultf(kindAbsent, "There is no such page.")
	})
	return rt.mux
}

// baseRoutes are those that every page needs.
func (s *Server) baseRoutes(rt router) {
	rt.open("GET /healthz", s.healthz)
	rt.open("GET /static/{file}", s.static)
	rt.open("GET /sign-in", s.revisit(s.signInPage))
	rt.open("POST /sign-in", s.tokened(s.signIn))
	rt.own("POST /sign-out", s.signOut)
	rt.long("GET /live", s.signed(s.live))
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
	rt.page("GET /{$}", s.front)
	rt.act("POST /alarms/acknowledge", s.acknowledge)
	rt.act("POST /alarms/shelve", s.shelve)
	rt.act("POST /alarms/unshelve", s.unshelve)
	rt.act("POST /selector", s.setSelector)
	rt.act("POST /drive/try", s.try)
	rt.act("POST /season", s.setSeason)
	rt.act("POST /probes/out", s.takeProbeOut)
	rt.act("POST /probes/back", s.putProbeBack)
	rt.own("POST /name", s.setName)
	rt.own("POST /degrees", s.setDegrees)
	rt.act("POST /test-message", s.testMessage)
	rt.page("GET /test-message", s.testPage)
}
