package page

import (
	"bufio"
	"compress/gzip"
	"errors"
	"io"
	"net/http"
	"time"
)

// download streams a file. What was sent cannot be taken back: where the history
// fails in between, the answer is cut off, so that a browser tells that it is
// not whole.
func (s *Server) download(w http.ResponseWriter, r *http.Request) error {
	words := s.wordsOf(r)
	a, err := s.downloadAsked(r, words, s.watch.Now())
	if err != nil {
		return err
	}
	kind := map[string]string{"wide": "text/csv; charset=utf-8", "long": "text/csv; charset=utf-8", "line": "text/plain; charset=utf-8"}[a.form]
	if a.packed {
		kind = "application/gzip"
	}
	asFile(w, kind, a.name(words.zone))
	patient := &patientWriter{w: w, control: http.NewResponseController(w), stall: downloadStall}
	if err := s.downloadTo(patient, r, a, words); err != nil {
		if r.Context().Err() == nil && !patient.failed { // else the visitor has gone
			s.log.Warn().Err(err).Msg("a download could not be finished")
		}
		panic(http.ErrAbortHandler) // cuts the answer off; the server knows it
	}
	return nil
}

func (s *Server) downloadTo(to io.Writer, r *http.Request, a downloadAsk, words words) (err error) {
	out := to
	var pack *gzip.Writer
	if a.packed {
		pack = gzip.NewWriter(to)
		out = pack
	}
	buffered := bufio.NewWriterSize(out, 32<<10)
	form := newDownloadForm(buffered, a, words.zone)
	if err := form.head(); err != nil {
		return err
	}
	for x, err := range s.options.Downloads.Samples(r.Context(), a.streams, a.From, a.To) {
		if err != nil {
			return err
		}
		if err := form.sample(x); err != nil {
			return err
		}
	}
	err = errors.Join(form.end(), buffered.Flush())
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
