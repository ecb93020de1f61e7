package page

import (
	"net/http"
	"strings"
)

type signInView struct {
	frame
	Wrong   string
	Named   bool   // there are accounts, so a name is asked for
	Account string // as it was typed
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) error {
	if !s.locked || s.sessions.signedIn(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return s.renderSignIn(w, r, http.StatusOK, signInView{})
}

func (s *Server) renderSignIn(w http.ResponseWriter, r *http.Request, status int, v signInView) error {
	v.frame, v.Named = s.frame(w, r, "Sign in"), !s.keys.shared()
	return s.render(w, status, "signin", v)
}

func (s *Server) signIn(w http.ResponseWriter, r *http.Request) error {
	if !s.locked {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	typed := tidy(r.PostForm.Get("account"), maxName)
	who, err := s.proven(r, typed, r.PostForm.Get("password"))
	if err != nil {
		return err
	}
	if who == nil {
		return s.renderSignIn(w, r, http.StatusUnauthorized, signInView{Wrong: s.wrongWords(), Account: typed})
	}
	s.sessions.signIn(w, who.ID)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

// wrongWords says nothing about which of the two was wrong.
func (s *Server) wrongWords() string {
	if s.keys.shared() {
		return "That is not the password."
	}
	return "That name and that password do not belong together."
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) error {
	s.sessions.signOut(w, r)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// signOutAll signs the visitor's account out in every browser.
func (s *Server) signOutAll(w http.ResponseWriter, r *http.Request) error {
	if a := s.account(r); a != nil {
		s.sessions.signOutAll(w, a.ID)
	}
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// accountID is what was typed as the name of an account: phones like to begin
// with a capital.
func (s *Server) accountID(typed string) string {
	if s.keys.shared() {
		return "" // any name will do with the one password
	}
	return strings.ToLower(strings.TrimSpace(typed))
}
