package page

import (
	"bufio"
	"cmp"
	"compress/gzip"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"telltale/alarms/report"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/reports"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Bounds of a download.
const (
	longestDownload = 400 * 24 * time.Hour
	mostDownloads   = 2                // at once
	downloadStall   = 30 * time.Second // a visitor takes nothing for so long: it ends
)

type downloadPage struct {
	frame
	Houses     []logChoice
	House      service.HouseName
	Places     []downloadChoice
	Quantities []downloadChoice
	From, To   string
	Copies     string // how the copies of all that is kept are; "": none are made
}

type downloadChoice struct{ Value, Words, ID string }

func (s *Server) downloads() bool { return s.options.Downloads != nil }

func (s keepsakes) downloadRoutes(rt router) {
	if !s.downloads() {
		return
	}
	room := make(chan struct{}, mostDownloads)
	rt.see("GET /download", s.downloadPage)
	rt.long("GET /download/file", s.door.Signed(func(w http.ResponseWriter, r *http.Request) error {
		select {
		case room <- struct{}{}:
			defer func() { <-room }()
			return s.download(w, r)
		default:
			return &answer.Error{Kind: answer.Away, Say: "Others are downloading now. Try again in a minute.", After: 60}
		}
	}))
}

// downloadPage lets a visitor choose what to take along.
func (s keepsakes) downloadPage(w http.ResponseWriter, r *http.Request) error {
	tell, now := s.wordsOf(r), s.watch.Now()
	v := downloadPage{frame: s.frame(r, "Download")}
	houses := s.options.Downloads.Houses()
	h, ok := houseChosen(houses, r.URL.Query().Get("house"))
	if !ok {
		return answer.Say(answer.Absent, "There is no such house.")
	}
	v.House = h
	for _, o := range houses {
		v.Houses = append(v.Houses, logChoice{Words: o.Name, Address: "/download?house=" + string(o.ID), Here: o.ID == h.ID})
	}
	for _, st := range s.options.Downloads.Streams(h.ID) {
		v.Places = addChoice(v.Places, "place", string(st.Place), st.PlaceName)
		v.Quantities = addChoice(v.Quantities, "quantity", string(st.Quantity), tell.Core.Word(st.Quantity))
	}
	v.From, v.To = now.In(tell.Zone).AddDate(0, 0, -6).Format(time.DateOnly), now.In(tell.Zone).Format(time.DateOnly)
	v.Copies = s.copiesSentence(tell, now)
	return s.render(w, r, http.StatusOK, "download", v)
}

func (s keepsakes) copiesSentence(w words.Words, now time.Time) string {
	if s.options.Copies == nil {
		return ""
	}
	made, fault := s.options.Copies()
	said := w.Say("No copy has been made yet.")
	if !made.IsZero() {
		said = w.Say("The newest good copy is of %s.", w.Clock(made, now))
	}
	if fault != "" {
		said += " " + w.Say("The last try failed: %s.", fault)
	}
	return said
}

func addChoice(all []downloadChoice, what, value, name string) []downloadChoice {
	if slices.ContainsFunc(all, func(c downloadChoice) bool { return c.Value == value }) {
		return all
	}
	return append(all, downloadChoice{value, name, words.Anchor(what, value)})
}

func houseChosen(all []service.HouseName, id string) (service.HouseName, bool) {
	for _, h := range all {
		if id == "" || string(h.ID) == id {
			return h, true
		}
	}
	return service.HouseName{}, false
}

// downloadAsk is what is to be taken along.
type downloadAsk struct {
	report.Span
	house   service.HouseName
	streams []service.DownloadStream
	form    string // wide, long or line
	packed  bool   // by gzip
}

// downloadAsked reads an address. No place or no quantity named means all.
func (s keepsakes) downloadAsked(r *http.Request, w words.Words, now time.Time) (a downloadAsk, err error) {
	q := r.URL.Query()
	var ok bool
	if a.house, ok = houseChosen(s.options.Downloads.Houses(), q.Get("house")); !ok {
		return a, answer.Say(answer.Absent, "There is no such house.")
	}
	for _, st := range s.options.Downloads.Streams(a.house.ID) {
		if wanted(q["place"], string(st.Place)) && wanted(q["quantity"], string(st.Quantity)) {
			a.streams = append(a.streams, st)
		}
	}
	if len(a.streams) == 0 {
		return a, answer.Say(answer.Absent, "No probe measures that there. Choose other places or quantities.")
	}
	if a.form = cmp.Or(q.Get("form"), "wide"); !slices.Contains([]string{"wide", "long", "line"}, a.form) {
		return a, answer.Say(answer.Invalid, "The form must be wide, long or line.")
	}
	a.packed = q.Get("gz") != ""
	first, err := reports.DayAsked(q.Get("from"), "from", w.Zone, now)
	if err != nil {
		return a, notTold(err)
	}
	last, err := reports.DayAsked(q.Get("to"), "to", w.Zone, now)
	if err != nil {
		return a, notTold(err)
	}
	a.Span = report.Span{From: report.Day(first, w.Zone).From, To: report.Day(last, w.Zone).To}
	switch {
	case !a.From.Before(a.To):
		return a, answer.Say(answer.Invalid, "The first day must not be after the last.")
	case a.Len() > longestDownload:
		return a, answer.Say(answer.Invalid, "A download covers 400 days at most. Take it in parts.")
	}
	return a, nil
}

// notTold lets a visitor see what is wrong with what they asked for.
func notTold(err error) error {
	if bad, ok := errors.AsType[reports.Bad](err); ok {
		return answer.Say(answer.Invalid, bad.Text, bad.Args...)
	}
	return err
}

func wanted(list []string, one string) bool { return len(list) == 0 || slices.Contains(list, one) }

// name is what the file is called.
func (a downloadAsk) name(zone *time.Location) string {
	end := map[string]string{"wide": ".csv", "long": ".csv", "line": ".lp"}[a.form]
	if a.packed {
		end += ".gz"
	}
	return strings.Join([]string{string(a.house.ID), a.From.In(zone).Format(time.DateOnly),
		a.To.Add(-time.Second).In(zone).Format(time.DateOnly)}, "_") + end
}

// download streams a file. What was sent cannot be taken back: where the history
// fails in between, the answer is cut off, so that a browser tells that it is
// not whole.
func (s keepsakes) download(w http.ResponseWriter, r *http.Request) error {
	say := s.wordsOf(r)
	a, err := s.downloadAsked(r, say, s.watch.Now())
	if err != nil {
		return err
	}
	kind := map[string]string{"wide": "text/csv; charset=utf-8", "long": "text/csv; charset=utf-8", "line": "text/plain; charset=utf-8"}[a.form]
	if a.packed {
		kind = "application/gzip"
	}
	asFile(w, kind, a.name(say.Zone))
	patient := &patientWriter{w: w, control: http.NewResponseController(w), stall: downloadStall}
	if err := s.downloadTo(patient, r, a, say); err != nil {
		if r.Context().Err() == nil && !patient.failed { // else the visitor has gone
			s.log.Warn().Err(err).Msg("a download could not be finished")
		}
		panic(http.ErrAbortHandler) // cuts the answer off; the server knows it
	}
	return nil
}

func (s keepsakes) downloadTo(to io.Writer, r *http.Request, a downloadAsk, say words.Words) (err error) {
	out := to
	var pack *gzip.Writer
	if a.packed {
		pack = gzip.NewWriter(to)
		out = pack
	}
	buffered := bufio.NewWriterSize(out, 32<<10)
	form := reports.NewForm(buffered, a.form, a.streams, say.Zone)
	if err := form.Head(); err != nil {
		return err
	}
	for x, err := range s.options.Downloads.Samples(r.Context(), a.streams, a.From, a.To) {
		if err != nil {
			return err
		}
		if err := form.Sample(x); err != nil {
			return err
		}
	}
	err = errors.Join(form.End(), buffered.Flush())
	if pack != nil {
		err = errors.Join(err, pack.Close())
	}
	return err
}

// patientWriter gives each write its own time to leave, so that a long file may
// take long and a visitor who takes nothing is let go.
type patientWriter struct {
	w       io.Writer
	control *http.ResponseController
	stall   time.Duration
	failed  bool
}

func (p *patientWriter) Write(b []byte) (int, error) {
	if err := p.control.SetWriteDeadline(time.Now().Add(p.stall)); err != nil {
		return 0, err
	}
	n, err := p.w.Write(b)
	p.failed = p.failed || err != nil
	return n, err
}
