package api

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Limits on what one request may ask for.
const (
	mostPoints    = 2000
	longestCourse = 20 * 366 * 24 * time.Hour
	mostLines     = 200
	longestShelf  = 14 * 24 * time.Hour
	apiWait       = 10 * time.Second
)

// number reads a whole number within bounds; an empty text gives or.
func number(field, text string, or, most int) (int, error) {
	if text == "" {
		return or, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		return 0, answer.Errorf(answer.Invalid, "%q must be a whole number from 1 to %d (got %q).", field, most, answer.Tidy(text, longestEcho))
	}
	return n, nil
}

// onlyKnown refuses parameters that nobody asked for: a typing error must not
// look like an answer.
func onlyKnown(r *http.Request, known ...string) error {
	for name, values := range r.URL.Query() {
		if !slices.Contains(known, name) {
			return answer.Errorf(answer.Invalid, "The parameter %q is not known here; known: %s.", answer.Tidy(name, longestEcho), strings.Join(known, ", "))
		}
		if len(values) > 1 {
			return answer.Errorf(answer.Invalid, "The parameter %q is there more than once.", name)
		}
	}
	return nil
}

type historyPoint struct {
	At    time.Time `json:"at"`
	Value float64   `json:"value"`
	Min   float64   `json:"min"`
	Max   float64   `json:"max"`
}

type historyView struct {
	House    alarms.HouseID  `json:"house"`
	Place    alarms.PlaceID  `json:"place"`
	Quantity alarms.Quantity `json:"quantity"`
	Unit     string          `json:"unit"`
	From     time.Time       `json:"from"`
	To       time.Time       `json:"to"`
	Points   []historyPoint  `json:"points"`
}

// history answers with the course of one quantity of one place.
func (a *API) history(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r, "house", "place", "quantity", "from", "to", "points"); err != nil {
		return err
	}
	q := r.URL.Query()
	v := historyView{House: alarms.HouseID(q.Get("house")), Place: alarms.PlaceID(q.Get("place")),
		Quantity: alarms.Quantity(q.Get("quantity")), Points: []historyPoint{}}
	if err := a.measured(v); err != nil {
		return err
	}
	v.Unit = unitOf(v.Quantity)
	var err error
	if v.To, err = answer.Time("to", q.Get("to"), a.Watch.Now()); err != nil {
		return err
	}
	if v.From, err = answer.Time("from", q.Get("from"), v.To.Add(-24*time.Hour)); err != nil {
		return err
	}
	if !v.From.Before(v.To) || v.To.Sub(v.From) > longestCourse {
		return answer.Errorf(answer.Invalid, "\"from\" must be earlier than \"to\", by 20 years at most.")
	}
	most, err := number("points", q.Get("points"), 300, mostPoints)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	points, err := a.Watch.History(ctx, v.House, v.Place, v.Quantity, v.From, v.To, most)
	if err != nil {
		return err
	}
	for _, p := range points {
		v.Points = append(v.Points, historyPoint{p.At.UTC(), p.Value, p.Min, p.Max})
	}
	v.From, v.To = v.From.UTC(), v.To.UTC()
	answer.JSON(w, http.StatusOK, v)
	return nil
}

// measured demands that there is such a place with such a quantity.
func (a *API) measured(v historyView) error {
	for _, h := range a.Watch.Picture().Houses {
		for _, pl := range h.Places {
			if h.ID != v.House || pl.ID != v.Place {
				continue
			}
			if slices.ContainsFunc(pl.Points, func(p alarms.PointPicture) bool { return p.Quantity == v.Quantity }) {
				return nil
			}
			return answer.Errorf(answer.Absent, "The place %s/%s has no %q.", h.ID, pl.ID, answer.Tidy(string(v.Quantity), longestEcho))
		}
	}
	return answer.Errorf(answer.Absent, "There is no place %q in a house %q.", answer.Tidy(string(v.Place), longestEcho), answer.Tidy(string(v.House), longestEcho))
}

type line struct {
	ID       string          `json:"id"`
	Alarm    alarms.AlarmID  `json:"alarm"`
	Move     alarms.Move     `json:"move"`
	From     alarms.State    `json:"from"`
	To       alarms.State    `json:"to"`
	Level    alarms.Level    `json:"level"`
	Priority alarms.Priority `json:"priority"`
	Due      time.Time       `json:"due"`
	Noticed  time.Time       `json:"noticed"`
	House    alarms.HouseID  `json:"house,omitempty"`
	Place    alarms.PlaceID  `json:"place,omitempty"`
	Quantity alarms.Quantity `json:"quantity,omitempty"`
	Value    *float64        `json:"value,omitempty"`
	Limit    *float64        `json:"limit,omitempty"`
	By       string          `json:"by,omitempty"`
	Reason   string          `json:"reason,omitempty"`
	Sentence string          `json:"sentence"`
}

// lineOf is t with its sentence in °C.
func (a *API) lineOf(t alarms.Transition) line {
	r := t.Reason
	return line{t.ID, t.Alarm, t.Move, t.From, t.To, t.Level, t.Priority, t.Due.UTC(), t.Noticed.UTC(),
		r.House, r.Place, r.Quantity, r.Value, r.Limit, r.By, r.Note, a.Words.In(words.Locale{}).Said(t)}
}

type logView struct {
	Lines []line    `json:"lines"`
	Next  string    `json:"next,omitempty"`
	Back  time.Time `json:"looked_back_to,omitzero"`
}

// log answers with one stretch of the log, newest first.
func (a *API) log(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r, "after", "limit", "house", "kind", "priority", "words"); err != nil {
		return err
	}
	q := r.URL.Query()
	ask := service.LogQuery{House: alarms.HouseID(q.Get("house")), Kind: service.LogKind(q.Get("kind")), Words: strings.Fields(q.Get("words"))}
	if !slices.Contains([]service.LogKind{service.LogAny, service.LogAlarms, service.LogPeople, service.LogDrives, service.LogWatch}, ask.Kind) {
		return answer.Errorf(answer.Invalid, "\"kind\" must be alarms, people, switching or watch (got %q).", answer.Tidy(string(ask.Kind), longestEcho))
	}
	if p := q.Get("priority"); p != "" && (ask.Priority.UnmarshalText([]byte(p)) != nil || ask.Priority == alarms.NoPriority) {
		return answer.Errorf(answer.Invalid, "\"priority\" must be low, medium or high (got %q).", answer.Tidy(p, longestEcho))
	}
	if len(ask.Words) > 8 {
		return answer.Errorf(answer.Invalid, "\"words\" may be eight at most (got %d).", len(ask.Words))
	}
	var err error
	if ask.From, err = readMark(q.Get("after")); err != nil {
		return err
	}
	if ask.Limit, err = number("limit", q.Get("limit"), 50, mostLines); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	found, err := a.Tending.Search(ctx, ask)
	if err != nil {
		return err
	}
	v := logView{Lines: []line{}, Back: found.Back.UTC()}
	for _, t := range found.Lines {
		v.Lines = append(v.Lines, a.lineOf(t))
	}
	if found.More {
		v.Next = fmt.Sprintf("%d.%d", found.Next.Due, found.Next.Seq)
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

// readMark reads the "next" of the stretch before.
func readMark(text string) (m service.LogMark, err error) {
	if text == "" {
		return m, nil
	}
	due, seq, found := strings.Cut(text, ".")
	var errDue, errSeq error
	m.Due, errDue = strconv.ParseInt(due, 10, 64)
	m.Seq, errSeq = strconv.ParseInt(seq, 10, 64)
	if !found || errDue != nil || errSeq != nil {
		return m, answer.Errorf(answer.Invalid, "\"after\" must be the \"next\" of an answer before (got %q).", answer.Tidy(text, longestEcho))
	}
	return m, nil
}
