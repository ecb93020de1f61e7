package page

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// Limits on what one request may ask for.
const (
	mostPoints    = 2000
	longestCourse = 20 * 366 * 24 * time.Hour
	mostLines     = 200
	longestShelf  = 14 * 24 * time.Hour
	apiWait       = 10 * time.Second
)

// apiTime reads one time; an empty text gives or.
func apiTime(field, text string, or time.Time) (time.Time, error) {
	if text == "" {
		return or, nil
	}
	t, err := time.Parse(time.RFC3339, text)
	if err != nil || t.Year() < 1970 || t.Year() > 9000 {
		return t, faultf(kindInvalid, "%q must be a time such as 2026-06-21T12:00:00Z (got %q).", field, tidy(text, maxName))
	}
	return t, nil
}

// apiNumber reads a whole number within bounds; an empty text gives or.
func apiNumber(field, text string, or, most int) (int, error) {
	if text == "" {
		return or, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		return 0, faultf(kindInvalid, "%q must be a whole number from 1 to %d (got %q).", field, most, tidy(text, maxName))
	}
	return n, nil
}

// apiKnown refuses parameters that nobody asked for: a typing error must not
// look like an answer.
func apiKnown(r *http.Request, known ...string) error {
	for name, values := range r.URL.Query() {
		if !slices.Contains(known, name) {
			return faultf(kindInvalid, "The parameter %q is not known here; known: %s.", tidy(name, maxName), strings.Join(known, ", "))
		}
		if len(values) > 1 {
			return faultf(kindInvalid, "The parameter %q is there more than once.", name)
		}
	}
	return nil
}

type apiHistoryPoint struct {
	At    time.Time `json:"at"`
	Value float64   `json:"value"`
	Min   float64   `json:"min"`
	Max   float64   `json:"max"`
}

type apiHistoryView struct {
	House    alarms.HouseID    `json:"house"`
	Place    alarms.PlaceID    `json:"place"`
	Quantity alarms.Quantity   `json:"quantity"`
	Unit     string            `json:"unit"`
	From     time.Time         `json:"from"`
	To       time.Time         `json:"to"`
	Points   []apiHistoryPoint `json:"points"`
}

// apiHistory answers with the course of one quantity of one place.
func (s *Server) apiHistory(w http.ResponseWriter, r *http.Request) error {
	if err := apiKnown(r, "house", "place", "quantity", "from", "to", "points"); err != nil {
		return err
	}
	q := r.URL.Query()
	v := apiHistoryView{House: alarms.HouseID(q.Get("house")), Place: alarms.PlaceID(q.Get("place")),
		Quantity: alarms.Quantity(q.Get("quantity")), Points: []apiHistoryPoint{}}
	if err := s.apiMeasured(v); err != nil {
		return err
	}
	v.Unit = siUnits[v.Quantity]
	var err error
	if v.To, err = apiTime("to", q.Get("to"), s.watch.Now()); err != nil {
		return err
	}
	if v.From, err = apiTime("from", q.Get("from"), v.To.Add(-24*time.Hour)); err != nil {
		return err
	}
	if !v.From.Before(v.To) || v.To.Sub(v.From) > longestCourse {
		return faultf(kindInvalid, "\"from\" must be earlier than \"to\", by 20 years at most.")
	}
	most, err := apiNumber("points", q.Get("points"), 300, mostPoints)
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	points, err := s.watch.History(ctx, v.House, v.Place, v.Quantity, v.From, v.To, most)
	if err != nil {
		return err
	}
	for _, p := range points {
		v.Points = append(v.Points, apiHistoryPoint{utc(p.At), p.Value, p.Min, p.Max})
	}
	v.From, v.To = utc(v.From), utc(v.To)
	writeJSON(w, http.StatusOK, v)
	return nil
}

// apiMeasured demands that there is such a place with such a quantity.
func (s *Server) apiMeasured(v apiHistoryView) error {
	for _, h := range s.watch.Picture().Houses {
		for _, pl := range h.Places {
			if h.ID != v.House || pl.ID != v.Place {
				continue
			}
			if slices.ContainsFunc(pl.Points, func(p alarms.PointPicture) bool { return p.Quantity == v.Quantity }) {
				return nil
			}
			return faultf(kindAbsent, "The place %s/%s has no %q.", h.ID, pl.ID, tidy(string(v.Quantity), maxName))
		}
	}
	return faultf(kindAbsent, "There is no place %q in a house %q.", tidy(string(v.Place), maxName), tidy(string(v.House), maxName))
}

type apiLine struct {
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
func (s *Server) lineOf(t alarms.Transition) apiLine {
	r := t.Reason
	v := apiLine{t.ID, t.Alarm, t.Move, t.From, t.To, t.Level, t.Priority, utc(t.Due), utc(t.Noticed),
		r.House, r.Place, r.Quantity, r.Value, r.Limit, r.By, r.Note, t.Sentence}
	if s.words.garden.Fahrenheit && t.Other != "" {
		v.Sentence = t.Other
	}
	return v
}

type apiLogView struct {
	Lines []apiLine `json:"lines"`
	Next  string    `json:"next,omitempty"`
	Back  time.Time `json:"looked_back_to,omitzero"`
}

// apiLog answers with one stretch of the log, newest first.
func (s *Server) apiLog(w http.ResponseWriter, r *http.Request) error {
	if err := apiKnown(r, "after", "limit", "house", "kind", "priority", "words"); err != nil {
		return err
	}
	q := r.URL.Query()
	ask := LogQuery{House: alarms.HouseID(q.Get("house")), Kind: LogKind(q.Get("kind")), Words: strings.Fields(q.Get("words"))}
	if !slices.Contains([]LogKind{LogAny, LogAlarms, LogPeople, LogDrives, LogWatch}, ask.Kind) {
		return faultf(kindInvalid, "\"kind\" must be alarms, people, switching or watch (got %q).", tidy(string(ask.Kind), maxName))
	}
	if p := q.Get("priority"); p != "" && (ask.Priority.UnmarshalText([]byte(p)) != nil || ask.Priority == alarms.NoPriority) {
		return faultf(kindInvalid, "\"priority\" must be low, medium or high (got %q).", tidy(p, maxName))
	}
	if len(ask.Words) > 8 {
		return faultf(kindInvalid, "\"words\" may be eight at most (got %d).", len(ask.Words))
	}
	var err error
	if ask.From, err = readMark(q.Get("after")); err != nil {
		return err
	}
	if ask.Limit, err = apiNumber("limit", q.Get("limit"), 50, mostLines); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	found, err := s.options.Tending.Search(ctx, ask)
	if err != nil {
		return err
	}
	v := apiLogView{Lines: []apiLine{}, Back: utc(found.Back)}
	for _, t := range found.Lines {
		v.Lines = append(v.Lines, s.lineOf(t))
	}
	if found.More {
		v.Next = fmt.Sprintf("%d.%d", found.Next.Due, found.Next.Seq)
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

// readMark reads the "next" of the stretch before.
func readMark(text string) (m LogMark, err error) {
	if text == "" {
		return m, nil
	}
	due, seq, found := strings.Cut(text, ".")
	var errDue, errSeq error
	m.Due, errDue = strconv.ParseInt(due, 10, 64)
	m.Seq, errSeq = strconv.ParseInt(seq, 10, 64)
	if !found || errDue != nil || errSeq != nil {
		return m, faultf(kindInvalid, "\"after\" must be the \"next\" of an answer before (got %q).", tidy(text, maxName))
	}
	return m, nil
}
