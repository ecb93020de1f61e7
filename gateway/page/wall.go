package page

import (
	"net/http"
	"slices"

	"telltale/alarms"
	"telltale/gateway/page/answer"
)

// wall is the front page for a screen that hangs somewhere and is read from afar: all
// houses or one, nothing to act with, dimmed at night. With scripts it follows like the
// front page; without, it loads itself again, which is enough for electronic paper.
func (s *Server) wall(w http.ResponseWriter, r *http.Request) error {
	v := s.frontView(r.Context(), s.wordsOf(r), true, &logCache{})
	if of := alarms.HouseID(r.URL.Query().Get("house")); of != "" {
		v.Houses = slices.DeleteFunc(v.Houses, func(h houseView) bool { return h.ID != of })
		if len(v.Houses) == 0 {
			return answer.Errorf(answer.Absent, "There is no such house.")
		}
	}
	v.frame = s.frame(r, "On the wall")
	v.Past = v.Top.Still != ""
	return s.render(w, http.StatusOK, "wall", v)
}
