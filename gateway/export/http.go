package export

import (
	"cmp"
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

	// For tests; what is not given is as withDefaults says.
	bufferBytes        int64         // of the buffer; when it is full the oldest segment, a quarter of it or 1 MiB, is given up
	batchBytes         int           // of a batch before compression
	timeout            time.Duration // of one attempt
	retryMin, retryMax time.Duration // bounds of the pauses between attempts, which grow twofold and vary at random
	client             *http.Client  // of its own, follows no redirects
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
	o.bufferBytes = cmp.Or(o.bufferBytes, 64<<20)
	o.batchBytes = cmp.Or(o.batchBytes, 512<<10)
	o.timeout = cmp.Or(o.timeout, 30*time.Second)
	o.retryMin = cmp.Or(o.retryMin, time.Second)
	o.retryMax = cmp.Or(o.retryMax, 5*time.Minute)
	if o.client == nil {
		o.client = &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
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
	return errors.Join(errs...)
}
