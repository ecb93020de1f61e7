package page

import (
	"net/http"

	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
)

// entrance are the pages by which one comes in and goes out.
type entrance struct{ *Server }

type signInView struct {
	frame
	Wrong   string
	Named   bool   // there are accounts, so a name is asked for
	Account string // as it was typed
}

func (s entrance) signInPage(w http.ResponseWriter, r *http.Request) error {
	if !s.door.MustSignIn(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return s.renderSignIn(w, r, http.StatusOK, signInView{})
}

func (s entrance) renderSignIn(w http.ResponseWriter, r *http.Request, status int, v signInView) error {
	v.frame, v.Named = s.frame(r, "Sign in"), !s.door.Shared()
	return s.render(w, r, status, "signin", v)
}

func (s entrance) signIn(w http.ResponseWriter, r *http.Request) error {
	if !s.door.Locked() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	typed := answer.Tidy(r.PostForm.Get("account"), maxName)
	who, err := s.door.Proven(r, typed, r.PostForm.Get("password"))
	if err != nil {
		return err
	}
	if who == nil {
		return s.renderSignIn(w, r, http.StatusUnauthorized, signInView{Wrong: s.wordsOf(r).Say(s.door.WrongWords()), Account: typed})
	}
	s.door.SignIn(w, who.ID)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (s entrance) signOut(w http.ResponseWriter, r *http.Request) error {
	s.door.SignOut(w, r)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// signOutAll signs the visitor's account out in every browser.
func (s entrance) signOutAll(w http.ResponseWriter, r *http.Request) error {
	if a := s.door.Account(r); a != nil {
		s.door.SignOutAll(w, a.ID)
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// accountView is the page of the visitor's own account.
type accountView struct {
	frame
	Account string // how one signs in; "" with the one password
	As      string // in the log
	Look    bool   // may look only
	Devices string // signed in
	Program bool   // programs may come in by a token
}

func (s entrance) accountRoutes(rt router) {
	rt.see("GET /account", s.accountPage)
	rt.own("POST /sign-out-everywhere", s.signOutAll)
}

// hasAccounts reports whether there is something to be signed in to.
func (s *Server) hasAccounts() bool { return s.door.Locked() }

func (s entrance) accountPage(w http.ResponseWriter, r *http.Request) error {
	a := s.door.Account(r)
	if a == nil {
		return answer.Say(answer.Absent, "There are no accounts: the page is served to this machine alone and needs no password.")
	}
	v := accountView{frame: s.frame(r, "Your account"), Account: a.ID, As: a.Name, Look: a.May == door.MayView,
		Devices: s.wordsOf(r).Counted(uint64(s.door.Count(a.ID)), "1 browser", "%d browsers"), Program: a.Programs()}
	return s.render(w, r, http.StatusOK, "account", v)
}
