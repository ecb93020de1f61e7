package page

import (
	"net/http"
)

type againView struct {
	frame
	Address string
}

// revisit handles visitors who come by a link from elsewhere, for example from
// a mail. Their browser keeps the cookie back on that first request (SameSite
// is Strict), so a page made now would greet a stranger and replace a good
// cookie. It gets a page instead that loads itself again from here, and then
// the cookie comes along.
func (s *Server) revisit(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		query := r.URL.Query()
		site := r.Header.Get("Sec-Fetch-Site")
		fromHere := site == "same-origin" || site == "none"
		if fromHere || query.Has("again") || s.sessions.visitor(r) != "" || !wantsPage(r) {
			return h(w, r)
		}
		query.Set("again", "1")
		return s.render(w, http.StatusOK, "again", againView{
			frame: frame{Name: s.options.Name, Title: "One moment"}, Address: r.URL.Path + "?" + query.Encode()})
	}
}
