package page

import (
	"compress/gzip"
	"io"
	"math/rand/v2"
	"mime"
	"net/http"
	"strconv"
	"strings"
	"sync"
)

// leastSqueezed is the size below which packing does not pay: with its frame an
// answer so small fills one packet either way.
const leastSqueezed = 1200

// squeezable are the types that get much smaller. Server-sent events are none
// of them: they must leave at once.
var squeezable = map[string]bool{
	"text/html": true, "text/css": true, "text/javascript": true, "text/plain": true, "text/csv": true,
	"application/json": true, "application/manifest+json": true, "image/svg+xml": true, "application/xml": true,
}

// squeezers are packers that wait for work. One holds some hundred kB.
type squeezers struct{ pool sync.Pool }

func (q *squeezers) take(w io.Writer) *gzip.Writer {
	z, ok := q.pool.Get().(*gzip.Writer)
	if !ok {
		z = gzip.NewWriter(io.Discard)
	}
	z.Reset(w)
	return z
}

// squeezed packs answers by gzip (RFC 1952) for browsers that accept it (RFC
// 9110, section 12.5.3).
func squeezed(next http.Handler) http.Handler {
	waiting := &squeezers{}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s := &squeezing{ResponseWriter: w, waiting: waiting, may: r.Method != http.MethodHead && accepts(r.Header.Values("Accept-Encoding"))}
		next.ServeHTTP(s, r)
		s.end()
	})
}

// accepts reports whether a browser takes gzip: it is named, or all is, and not
// with a weight of nought.
func accepts(headers []string) bool {
	found, all := -1.0, -1.0
	for _, part := range strings.Split(strings.Join(headers, ","), ",") {
		name, params, _ := strings.Cut(part, ";")
		weight := 1.0
		if q, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(params)), "q="); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(q), 64)
			if err != nil {
				continue
			}
			weight = v
		}
		switch strings.ToLower(strings.TrimSpace(name)) {
		case "gzip", "x-gzip":
			found = weight
		case "*":
			all = weight
		}
	}
	if found >= 0 {
		return found > 0
	}
	return all > 0
}

// squeezing decides with the first bytes of an answer whether to pack it.
type squeezing struct {
	http.ResponseWriter
	waiting *squeezers
	may     bool
	status  int // 0: not written yet
	begun   bool
	z       *gzip.Writer
}

// Unwrap is for http.ResponseController, which sets deadlines.
func (s *squeezing) Unwrap() http.ResponseWriter { return s.ResponseWriter }

// WriteHeader holds the status back until the first bytes come.
func (s *squeezing) WriteHeader(status int) {
	if status < http.StatusOK { // more will follow
		s.ResponseWriter.WriteHeader(status)
		return
	}
	if s.status == 0 {
		s.status = status
	}
}

func (s *squeezing) Write(p []byte) (int, error) {
	if !s.begun {
		s.begin(len(p))
	}
	if s.z != nil {
		return s.z.Write(p)
	}
	return s.ResponseWriter.Write(p)
}

// begin sends the head. size is that of the first bytes, which are all of an
// answer that is small.
func (s *squeezing) begin(size int) {
	s.begun = true
	if s.status == 0 {
		s.status = http.StatusOK
	}
	head := s.Header()
	kind, _, err := mime.ParseMediaType(head.Get("Content-Type"))
	packable := err == nil && squeezable[kind] && head.Get("Content-Encoding") == "" && head.Get("Content-Range") == "" &&
		s.status != http.StatusNoContent && s.status != http.StatusNotModified
	if packable {
		head.Add("Vary", "Accept-Encoding")
	}
	if packable && s.may && size >= leastSqueezed {
		head.Set("Content-Encoding", "gzip")
		head.Del("Content-Length")
		if tag := head.Get("Etag"); tag != "" && !strings.HasPrefix(tag, "W/") {
			head.Set("Etag", "W/"+tag) // the same meaning in other bytes
		}
		s.z = s.waiting.take(s.ResponseWriter)
		if strings.Contains(head.Get("Cache-Control"), "no-store") {
			// Of an answer for one visitor the length must not tell what is in it.
			s.z.Comment = strings.Repeat("~", 1+rand.IntN(32))
		}
	}
	s.ResponseWriter.WriteHeader(s.status)
}

// FlushError sends what was written so far.
func (s *squeezing) FlushError() error {
	if !s.begun {
		s.begin(0)
	}
	if s.z != nil {
		if err := s.z.Flush(); err != nil {
			return err
		}
	}
	return http.NewResponseController(s.ResponseWriter).Flush()
}

// end sends what is left. An answer without a body still has its head to send.
func (s *squeezing) end() {
	if !s.begun && s.status != 0 {
		s.begin(0)
	}
	if s.z != nil {
		_ = s.z.Close() // a visitor who has gone cannot be told
		s.waiting.pool.Put(s.z)
		s.z = nil
	}
}
