package export

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// verdict is what an answer means for the batch.
type verdict uint8

const (
	kept    verdict = iota // try again later
	taken                  // done
	refused                // this batch will never be taken
)

// answer is the outcome of one attempt.
type answer struct {
	verdict verdict
	why     string
	wait    time.Duration // asked for by the endpoint; 0: not
}

// post makes one attempt.
func (h *httpSink) post(ctx context.Context, b batch) answer {
	ctx, cancel := context.WithTimeout(ctx, h.opt.timeout)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, h.opt.URL, bytes.NewReader(compress(b.text)))
	if err != nil {
		return answer{why: "the request cannot be made"}
	}
	request.Header.Set("Content-Type", "text/plain; charset=utf-8")
	request.Header.Set("Content-Encoding", "gzip")
	request.Header.Set("User-Agent", "telltale")
	if h.opt.Authorization != "" {
		request.Header.Set("Authorization", h.opt.Authorization)
	}
	response, err := h.opt.client.Do(request)
	if err != nil {
		return answer{why: h.hush(err)}
	}
	defer response.Body.Close()
	body, _ := io.ReadAll(io.LimitReader(response.Body, 512))
	return judge(response, body, h.now())
}

// hush tells a failed request without its query, which may hold a secret.
func (h *httpSink) hush(err error) string {
	if u, ok := err.(*url.Error); ok {
		err = u.Err
	}
	return fmt.Sprintf("%s cannot be reached: %v", h.name, err)
}

// judge sorts answers. A batch is given up only where the answer is about the
// batch: 4xx, except what a person can set right without changing it (401,
// 403, 404, 407: authorization or address) or time will (408, 425, 429).
// Everything else, redirects too, leaves the batch to be tried again.
func judge(r *http.Response, body []byte, now time.Time) answer {
	a := answer{why: "HTTP " + r.Status}
	if text := strings.Join(strings.Fields(printable(body)), " "); text != "" {
		a.why += ": " + text
	}
	switch code := r.StatusCode; {
	case code >= 200 && code < 300:
		a.verdict = taken
	case code == 401 || code == 403 || code == 404 || code == 407 || code == 408 || code == 425 || code == 429:
		a.wait = retryAfter(r.Header.Get("Retry-After"), now)
	case code >= 400 && code < 500:
		a.verdict = refused
	default:
		a.wait = retryAfter(r.Header.Get("Retry-After"), now)
	}
	return a
}

// printable keeps an answer fit for a sentence.
func printable(b []byte) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return ' '
		}
		return r
	}, string(b))
}

// retryAfter reads seconds or a date (RFC 9110, section 10.2.3).
func retryAfter(s string, now time.Time) time.Duration {
	if n, err := strconv.ParseUint(s, 10, 31); err == nil {
		return time.Duration(n) * time.Second
	}
	if at, err := http.ParseTime(s); err == nil {
		return max(0, at.Sub(now))
	}
	return 0
}

// pause is how long to wait after the attempt-th failure in a row: twofold
// each time, at random between half of it and all of it, so that many
// services do not come back at one moment; not less than what the endpoint
// asks for, within retryMax.
func (o HTTPOptions) pause(attempt int, asked time.Duration) time.Duration {
	d := o.retryMin
	for i := 1; i < attempt && d < o.retryMax; i++ {
		d *= 2
	}
	d = min(d, o.retryMax)
	d = d/2 + rand.N(d/2+1)
	return min(max(d, asked), o.retryMax)
}

func compress(text []byte) []byte {
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	w.Write(text) // a bytes.Buffer takes everything
	w.Close()
	return out.Bytes()
}
