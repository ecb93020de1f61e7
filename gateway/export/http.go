package export

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"
)

// HTTPOptions say where and how to write over HTTP.
type HTTPOptions struct {
	// URL is where batches are posted, with its query if it needs one, for
	// example http://127.0.0.1:8181/write?precision=ns. Times are nanoseconds.
	URL string
	// Authorization is the whole value of the Authorization header; a secret,
	// never logged or shown. Empty: no such header.
	Authorization string
	// Dir is the folder of the buffer on disk, used for nothing else. Required.
	Dir string
	// BufferBytes is how large the buffer may become, default 64 MiB. When it
	// is full the oldest segment, a quarter of it or 1 MiB, is given up.
	BufferBytes int64
	// BatchBytes is how large a batch may become before compression, default
	// 512 KiB.
	BatchBytes int
	// Timeout bounds one attempt, default 30 s.
	Timeout time.Duration
	// RetryMin and RetryMax bound the pauses between attempts, which grow
	// twofold and vary at random; defaults 1 s and 5 min.
	RetryMin, RetryMax time.Duration
	// Client is used if given; nil: one of its own that follows no redirects.
	Client *http.Client
}

// HTTPStats is the state of the HTTP sink.
type HTTPStats struct {
	Lines     uint64    // accepted by the endpoint
	Batches   uint64    // accepted by the endpoint
	Failures  uint64    // attempts that failed
	Dropped   uint64    // lines given up
	Waiting   int       // lines that wait, in memory and on disk
	Buffered  int64     // bytes on disk
	AwaySince time.Time // zero: the endpoint takes what it gets
	Last      string    // the last thing that went wrong, a sentence
}

func (o HTTPOptions) withDefaults() HTTPOptions {
	if o.BufferBytes == 0 {
		o.BufferBytes = 64 << 20
	}
	if o.BatchBytes == 0 {
		o.BatchBytes = 512 << 10
	}
	if o.Timeout == 0 {
		o.Timeout = 30 * time.Second
	}
	if o.RetryMin == 0 {
		o.RetryMin = time.Second
	}
	if o.RetryMax == 0 {
		o.RetryMax = 5 * time.Minute
	}
	if o.Client == nil {
		o.Client = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	}
	return o
}

func (o HTTPOptions) check() error {
	var errs []error
	wrong := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("export over HTTP: "+format, args...))
	}
	u, err := url.Parse(o.URL)
	switch {
	case err != nil:
		wrong("url: cannot be read") // the text of err may hold a secret
	case (u.Scheme != "http" && u.Scheme != "https") || u.Host == "":
		wrong("url: got %q, want http:// or https:// and a host", u.Redacted())
	case u.User != nil:
		wrong("url: %q holds a name or password; give them as the authorization, from a secret", u.Redacted())
	}
	if o.Dir == "" {
		wrong("dir: the folder of the buffer is not given")
	}
	if o.BufferBytes < 64<<10 {
		wrong("buffer: got %d bytes, want at least 65536", o.BufferBytes)
	}
	if o.BatchBytes < 1<<10 || int64(o.BatchBytes) > o.BufferBytes/4 {
		wrong("batch: got %d bytes, want 1024 to a quarter of the buffer (%d)", o.BatchBytes, o.BufferBytes/4)
	}
	if o.RetryMin <= 0 || o.RetryMax < o.RetryMin {
		wrong("retry: got pauses of %v to %v, want a positive one and a longer one", o.RetryMin, o.RetryMax)
	}
	if o.Timeout < 0 {
		wrong("timeout: got %v, want a positive one", o.Timeout)
	}
	return errors.Join(errs...)
}
