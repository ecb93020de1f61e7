package page

import "net/http"

// accountView is the page of the visitor's own account.
type accountView struct {
	frame
	Account string // how one signs in; "" with the one password
	As      string // in the log
	Look    bool   // may look only
	Devices string // signed in
	Program bool   // programs may come in by a token
}

func (s *Server) accountRoutes(rt router) {
	rt.page("GET /account", s.accountPage)
	rt.own("POST /sign-out-everywhere", s.signOutAll)
}

// hasAccounts reports whether there is something to be signed in to.
func (s *Server) hasAccounts() bool { return s.locked }

func (s *Server) accountPage(w http.ResponseWriter, r *http.Request) error {
	a := s.account(r)
	if a == nil {
		return faultf(kindAbsent, "There are no accounts: the page is served to this machine alone and needs no password.")
	}
	v := accountView{frame: s.frame(w, r, "Your account"), Account: a.ID, As: a.Name, Look: a.May == MayLook,
		Devices: counted(uint64(s.sessions.count(a.ID)), "browser"), Program: a.token != nil}
	return s.render(w, http.StatusOK, "account", v)
}
