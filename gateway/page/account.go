package page

import "net/http"

// mayAct reports whether r's visitor may do more than look.
func (s *Server) mayAct(*http.Request) bool { return true }

// acting lets only people through who may act.
func (s *Server) acting(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !s.mayAct(r) {
			return faultf(kindRefused, "This account may look only, so nothing was done.")
		}
		return h(w, r)
	}
}
