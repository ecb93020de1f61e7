// Package companion asks the first watch of a garden, over HTTP or over the broker that
// both hear, how it is, what it judges by and whom it tells, and gives it what people did
// at its companion. It keeps nothing and decides nothing: that is the core's (alarms/companion).
package companion

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"telltale/alarms/companion"
)

const (
	// patience is how long the first may take to answer.
	patience = 10 * time.Second
	// most is how much of an answer is read, bytes.
	most = 8 << 20
)

// Options say where the first watch is.
type Options struct {
	First string         // address of its page
	Token string         // of an account that may accompany
	Roots *x509.CertPool // nil: the system's
}

// Client asks one watch. It may be used by all at once.
type Client struct {
	base, token string
	http        *http.Client
}

// New makes a client; nothing is asked yet.
func New(o Options) *Client {
	t := &http.Transport{TLSClientConfig: &tls.Config{RootCAs: o.Roots, MinVersion: tls.VersionTLS12}, MaxIdleConns: 2, IdleConnTimeout: time.Minute,
		Proxy: nil, TLSHandshakeTimeout: patience, ResponseHeaderTimeout: patience}
	return &Client{base: o.First, token: o.Token, http: &http.Client{Transport: t, Timeout: patience,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// Close lets go of connections that are kept.
func (c *Client) Close() { c.http.CloseIdleConnections() }

// Report asks how the first is.
func (c *Client) Report(ctx context.Context) (companion.Report, error) {
	var r companion.Report
	if err := c.ask(ctx, http.MethodGet, "", nil, &r); err != nil {
		return r, err
	}
	return r, checkForm(r)
}

// checkForm says what is wrong with a report that this program cannot read.
func checkForm(r companion.Report) error {
	if r.Form != companion.Form {
		return fmt.Errorf("the first watch reports in form %d, and this program reads form %d: let both run the same version", r.Form, companion.Form)
	}
	return nil
}

// Plan asks for what is to be copied.
func (c *Client) Plan(ctx context.Context) (text []byte, err error) {
	var p struct{ Version, Plan string }
	err = c.ask(ctx, http.MethodGet, "/plan", nil, &p)
	if err == nil && p.Plan == "" {
		err = errors.New("the first watch gave no plan: is anything set up there?")
	}
	return []byte(p.Plan), err
}

// ErrRefused is of an act that the first will not do; Give says why.
var ErrRefused = errors.New("the first watch refused it")

// Give gives the first what somebody did here.
func (c *Client) Give(ctx context.Context, a companion.Act) error {
	body, err := json.Marshal(a)
	if err != nil {
		return err
	}
	var done struct{ Said string }
	return c.ask(ctx, http.MethodPost, "/act", body, &done)
}

func (c *Client) ask(ctx context.Context, method, path string, body []byte, into any) error {
	r, err := http.NewRequestWithContext(ctx, method, c.base+"/api/v1/companion"+path, bytes.NewReader(body))
	if err != nil {
		return err
	}
	r.Header.Set("Authorization", "Bearer "+c.token) // RFC 6750
	if body != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := c.http.Do(r)
	if err != nil {
		var u *url.Error
		if errors.As(err, &u) {
			err = u.Err // without the address, which is known
		}
		return fmt.Errorf("it does not answer at %s: %w", c.base, err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(io.LimitReader(answer.Body, most))
	switch {
	case err != nil:
		return fmt.Errorf("its answer broke off: %w", err)
	case answer.StatusCode != http.StatusOK:
		return refusal(answer.StatusCode, text)
	}
	if err := json.Unmarshal(text, into); err != nil {
		return fmt.Errorf("its answer cannot be read: is there a Telltale of the same version at %s? %w", c.base, err)
	}
	return nil
}

// refusal says why the first did not answer as asked.
func refusal(status int, text []byte) error {
	var said struct{ Error string }
	if json.Unmarshal(text, &said) != nil || said.Error == "" {
		said.Error = http.StatusText(status)
	}
	switch status {
	case http.StatusUnauthorized, http.StatusForbidden:
		return fmt.Errorf("it does not let this companion in: %s Check the token, and that its account there has may = \"accompany\"", said.Error)
	case http.StatusBadRequest, http.StatusConflict:
		return fmt.Errorf("%w: %s", ErrRefused, said.Error)
	}
	return fmt.Errorf("it answered with status %d: %s", status, said.Error)
}
