package supervise

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
)

// PostSender posts each sign of life as JSON to a web address on another
// machine.
type PostSender struct {
	address string
	host    string
	header  string
	client  *http.Client
}

// NewPostSender posts to address, which begins with https:// or, within the
// house, http://. Its path may be a secret and is never shown. authorization,
// if not empty, is the value of the Authorization header. client must have its
// own transport; nil takes one of its own.
func NewPostSender(address, authorization string, client *http.Client) (*PostSender, error) {
	u, err := url.Parse(address)
	if err != nil {
		return nil, errors.New("the heartbeat's address is no URL; want https://host/path")
	}
	if u.Scheme != "https" && u.Scheme != "http" || u.Hostname() == "" {
		return nil, fmt.Errorf("the heartbeat's address has the scheme %q and the host %q; want https://host/path", u.Scheme, u.Host)
	}
	if u.User != nil {
		return nil, fmt.Errorf("the heartbeat's address at %s holds a user name; give it as authorization", u.Host)
	}
	// One connection for each: they are minutes apart, and none stays open.
	own := http.Client{Transport: &http.Transport{Proxy: http.ProxyFromEnvironment, DisableKeepAlives: true}}
	if client != nil {
		own = *client
	}
	// A redirected POST would arrive as a GET elsewhere, or not at all.
	own.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &PostSender{address: address, host: u.Host, header: authorization, client: &own}, nil
}

func (p *PostSender) String() string { return "web address at " + p.host }

// Send posts b; any answer but 2xx is an error.
func (p *PostSender) Send(ctx context.Context, b Beat) error {
	body, err := json.Marshal(b)
	if err != nil {
		return err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, p.address, bytes.NewReader(body))
	if err != nil {
		return errors.New("the heartbeat's address cannot be used")
	}
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("User-Agent", "telltale")
	if p.header != "" {
		req.Header.Set("Authorization", p.header)
	}
	resp, err := p.client.Do(req)
	if err != nil {
		// The client's error shows the whole address.
		if u := (*url.Error)(nil); errors.As(err, &u) {
			err = u.Err
		}
		return fmt.Errorf("no answer from %s: %w", p.host, err)
	}
	defer resp.Body.Close()
	switch {
	case resp.StatusCode/100 == 2:
		return nil
	case resp.StatusCode/100 == 3:
		return fmt.Errorf("%s answers %s: it wants another address; give that one", p.host, resp.Status)
	}
	return fmt.Errorf("%s answers %s", p.host, resp.Status)
}

var _ Sender = (*PostSender)(nil)
