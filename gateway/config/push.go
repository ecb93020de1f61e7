package config

import (
	"net/mail"
	"net/url"
	"slices"
	"strings"

	"telltale/alarms/tongue"
)

// Push tells the browsers that people registered on the page.
type Push struct {
	Contact string // mailto: or https:, shown to push services
}

func readPush(t *table) Push {
	return Push{Contact: need(t, read(t, "contact", func(raw any) (string, error) {
		s, ok := raw.(string)
		if !ok || !contact(s) {
			return "", tongue.Put("must be \"mailto:grower@example.org\" or an address that begins with https:// (got %s)", got(raw))
		}
		return s, nil
	}), "say how whoever runs a push service reaches you: \"mailto:grower@example.org\" or an address that begins with https://").V}
}

// contact reports whether a push service can use s (RFC 8292, section 2.1).
func contact(s string) bool {
	if to, ok := strings.CutPrefix(s, "mailto:"); ok {
		a, err := mail.ParseAddress(to)
		return err == nil && a.Address == to
	}
	u, err := url.Parse(s)
	return err == nil && u.Scheme == "https" && u.Host != "" && u.User == nil
}

// checkPush reports that phones take no alarms from a page without HTTPS.
func checkPush(c *Config, root *table) {
	if c.Page.TLS() || c.Page.ProxyTLS {
		return
	}
	for _, t := range root.children("channel") {
		pushes := func(ch Channel) bool { return ch.Name == t.name && ch.Kind == ByPush && !ch.Rehearse }
		if slices.ContainsFunc(c.Reach.Channels, pushes) {
			root.warn(t.spot("kind"), "reaches no phone while the page is served without HTTPS, only browsers on this machine; "+
				"say own-authority = true in [page], give it certificate-file and key-file, or put a TLS proxy in front and say behind-tls-proxy = true")
		}
	}
}
