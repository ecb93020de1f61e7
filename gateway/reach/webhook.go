package reach

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"telltale/gateway/loopback"
)

const (
	mostAnswer    = 4 << 10 // bytes read of an answer, so that the connection can be used again
	mostHeader    = 16 << 10
	webhookWaits  = 30 * time.Second
	webhookDials  = 10 * time.Second
	webhookIdle   = time.Minute
	webhookAnswer = 20 * time.Second // until the answer's header
)

// WebhookOptions say where to post.
type WebhookOptions struct {
	URL    string // https; http to this machine only, or with AllowPlain
	Secret []byte // shared with the receiver, 24 to 64 bytes
	// AllowPlain lets http go to other hosts. The signature still shows who
	// wrote the message and that it is whole, but anybody on the way can read it.
	AllowPlain bool
	Roots      *x509.CertPool   // who may vouch for the server; nil: the system's
	Now        func() time.Time // for the timestamp, which the receiver compares with its clock; nil: time.Now
}

// Webhook posts a Document as JSON, signed as Sign says. An answer of 2xx is
// success. 400, 413, 415 and 422 are about the message itself (RFC 9110, section
// 15.5) and permanent. 408, 425, 429 and 5xx are worth another try soon; by any
// other answer it is denied, and so it is by a redirect, which is not followed:
// the message would go where nobody meant it to go. No more than 4 KiB of an
// answer are read.
type Webhook struct {
	o      WebhookOptions
	host   string // the URL itself may hold a secret and is never shown
	client *http.Client
}

// NewWebhook checks o; no network yet.
func NewWebhook(o WebhookOptions) (*Webhook, error) {
	u, err := url.Parse(o.URL)
	switch {
	case err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http"):
		return nil, errors.New("the webhook URL must be a whole address that begins with https:// (its text is not shown, it may hold a secret)")
	case u.Scheme == "http" && !o.AllowPlain && !loopback.Host(u.Hostname()):
		return nil, fmt.Errorf("the webhook to %s uses http; use https, or allow plain http for it if it never leaves your own network", u.Host)
	case len(o.Secret) < leastSecret || len(o.Secret) > mostSecret:
		return nil, fmt.Errorf("the webhook secret for %s must have %d to %d bytes (got %d)", u.Host, leastSecret, mostSecret, len(o.Secret))
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Webhook{o: o, host: u.Host, client: &http.Client{
		Timeout:       webhookWaits,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			Proxy:                  http.ProxyFromEnvironment,
			DialContext:            (&net.Dialer{Timeout: webhookDials}).DialContext,
			TLSClientConfig:        &tls.Config{RootCAs: o.Roots, MinVersion: tls.VersionTLS12},
			TLSHandshakeTimeout:    webhookDials,
			ResponseHeaderTimeout:  webhookAnswer,
			MaxResponseHeaderBytes: mostHeader,
			MaxIdleConns:           1,
			IdleConnTimeout:        webhookIdle,
			ForceAttemptHTTP2:      true,
		},
	}}, nil
}

// Close drops idle connections.
func (w *Webhook) Close() { w.client.CloseIdleConnections() }

// Tell posts t.
func (w *Webhook) Tell(ctx context.Context, t Telling) error {
	body, err := document(t)
	if err != nil {
		return err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.o.URL, bytes.NewReader(body))
	if err != nil {
		return refuse("the webhook to %s cannot be called; check its URL", w.host)
	}
	id, stamp := headerID(t.ID), strconv.FormatInt(w.o.Now().Unix(), 10)
	req.Header.Set("Content-Type", "application/json; charset=utf-8")
	req.Header.Set("User-Agent", "telltale")
	req.Header.Set(IDHeader, id)
	req.Header.Set(TimestampHeader, stamp)
	req.Header.Set(SignatureHeader, Sign(w.o.Secret, id, stamp, body))
	resp, err := w.client.Do(req)
	if err != nil {
		return w.unreached(err)
	}
	defer resp.Body.Close()
	// What the answer says beyond its status is of no use; a failure to read it neither.
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, mostAnswer))
	return w.judge(resp)
}

// unreached says why there was no answer, without the URL.
func (w *Webhook) unreached(err error) error {
	if whole, ok := errors.AsType[*url.Error](err); ok {
		err = whole.Err
	}
	if _, ok := errors.AsType[*tls.CertificateVerificationError](err); ok {
		return fmt.Errorf("the certificate of %s was not accepted; check the certificate and this machine's clock: %w", w.host, err)
	}
	return fmt.Errorf("no answer from the webhook at %s; check that it is up and can be reached: %w", w.host, err)
}

func (w *Webhook) judge(resp *http.Response) error {
	code := resp.StatusCode
	said := fmt.Sprintf("the webhook at %s answered %d %s", w.host, code, http.StatusText(code))
	switch {
	case code >= 200 && code < 300:
		return nil
	case code >= 300 && code < 400:
		return deny("%s; redirects are not followed: put the final address into the config", said)
	case code == http.StatusUnauthorized || code == http.StatusForbidden:
		return deny("%s; check that both sides have the same secret and the right time", said)
	case code == http.StatusRequestTimeout, code == http.StatusTooEarly, code == http.StatusTooManyRequests, code >= 500:
		return fmt.Errorf("%s; check the receiver", said)
	case code == http.StatusBadRequest, code == http.StatusRequestEntityTooLarge, code == http.StatusUnsupportedMediaType,
		code == http.StatusUnprocessableEntity:
		return refuse("%s; check what the receiver expects", said)
	}
	return deny("%s; check its address and what the receiver expects", said)
}
