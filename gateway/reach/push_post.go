package reach

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"telltale/alarms"
)

const (
	testTTL     = 10 * time.Minute // of a test: later it would puzzle
	longestHeld = time.Hour        // however long a push service asks us to wait
)

// What a push service may answer that is more than yes or no.
var (
	errGone    = errors.New("the push service does not know it any more, so it was forgotten; switch alarms on again on the device itself")
	errTooLong = errors.New("the message is too long for the push service")
)

// post hands one message to the push service of d (RFC 8030, section 5).
func (p *Push) post(ctx context.Context, d Device, t Telling, text []byte) error {
	u, err := checkEndpoint(d.Endpoint, p.o.OnLoopback)
	if err != nil {
		return &Permanent{Err: err}
	}
	body, err := locked(text, d)
	if err != nil {
		return refuse("the message cannot be encrypted; switch alarms off and on again on the device: %w", err)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, d.Endpoint, bytes.NewReader(body))
	if err != nil {
		return refuse("the push service at %s cannot be called; switch alarms off and on again on the device", u.Host)
	}
	auth, err := p.o.Key.authorization(u, p.o.Contact, p.o.Now())
	if err != nil {
		return refuse("the key for push services cannot sign; check it in the store: %w", err)
	}
	for name, value := range map[string]string{
		"Authorization": auth, "Content-Encoding": "aes128gcm", "Content-Type": "application/octet-stream", "User-Agent": "telltale",
		"TTL": strconv.Itoa(int(lives(t) / time.Second)), "Urgency": urgency(t), "Topic": p.o.Key.topic(about(t)),
	} {
		req.Header.Set(name, value)
	}
	resp, err := p.client.Do(req)
	if err != nil {
		return unreachedService(u.Host, err)
	}
	defer resp.Body.Close()
	// What the answer says beyond status and header is of no use.
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, mostAnswer))
	return p.judge(u.Host, resp)
}

// lives is how long a push service keeps t for a device that is away: as long
// as the watch itself would try.
func lives(t Telling) time.Duration {
	if t.Test {
		return testTTL
	}
	if t.Events[0].Letter {
		return letterTried
	}
	return giveUpAfter(t.Worst())
}

// urgency is that of RFC 8030, section 5.3. A phone that saves its battery
// still takes what is high.
func urgency(t Telling) string {
	switch {
	case t.Test || t.Worst() >= alarms.High:
		return "high"
	case t.Worst() == alarms.Medium:
		return "normal"
	}
	return "low"
}

// about is what t is about: later news about the same takes its place. News of
// several alarms takes the place of none; a warning and what it warns of are one.
func about(t Telling) string {
	for _, e := range t.Events {
		if e.Alarm.Story() != t.Events[0].Alarm.Story() {
			return "telling " + t.ID
		}
	}
	return story(t.Events[0])
}

func story(e Event) string { return "alarm " + string(e.Alarm.Story()) }

// unreachedService says why there was no answer, without the endpoint.
func unreachedService(host string, err error) error {
	if whole, ok := errors.AsType[*url.Error](err); ok {
		err = whole.Err
	}
	if _, ok := errors.AsType[*tls.CertificateVerificationError](err); ok {
		return fmt.Errorf("the certificate of the push service at %s was not accepted; check this machine's clock: %w", host, err)
	}
	return fmt.Errorf("no answer from the push service at %s; check that this machine reaches the internet: %w", host, err)
}

// judge reads an answer.
func (p *Push) judge(host string, resp *http.Response) error {
	code := resp.StatusCode
	said := fmt.Sprintf("the push service at %s answered %d %s", host, code, http.StatusText(code))
	switch {
	case code >= 200 && code < 300:
		return nil
	case code >= 300 && code < 400:
		return deny("%s; redirects are not followed: switch alarms off and on again on the device", said)
	case code == http.StatusNotFound || code == http.StatusGone:
		return &Permanent{Err: fmt.Errorf("%s: %w", said, errGone)}
	case code == http.StatusRequestEntityTooLarge:
		return &Permanent{Err: fmt.Errorf("%s: %w", said, errTooLong)}
	case code == http.StatusUnauthorized || code == http.StatusForbidden:
		return deny("%s; check this machine's clock, and switch alarms off and on again on the device", said)
	case code == http.StatusTooManyRequests || code >= 500:
		if pause := retryAfter(resp.Header.Get("Retry-After"), p.o.Now()); pause > 0 {
			return &Later{Pause: min(pause, longestHeld), Why: said + " and asked to wait"}
		}
		return fmt.Errorf("%s; check whether it is in trouble", said)
	case code == http.StatusRequestTimeout || code == http.StatusTooEarly:
		return fmt.Errorf("%s; check the connection to the internet", said)
	case code == http.StatusBadRequest:
		return refuse("%s; switch alarms off and on again on the device", said)
	}
	return deny("%s; switch alarms off and on again on the device", said)
}

// retryAfter reads a Retry-After header, in seconds or a date (RFC 9110,
// section 10.2.3); 0 for none.
func retryAfter(text string, now time.Time) time.Duration {
	if n, err := strconv.ParseUint(text, 10, 31); err == nil {
		return time.Duration(n) * time.Second
	}
	if at, err := http.ParseTime(text); err == nil {
		return max(0, at.Sub(now))
	}
	return 0
}
