package door

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"telltale/gateway/loopback"
	"telltale/gateway/page/answer"
)

// contentPolicy allows what comes from the page itself and nothing inline.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"

// permissionsPolicy takes from the page what it has no use for. Notifications
// are not among what such a policy rules: the visitor is asked for them.
const permissionsPolicy = "accelerometer=(), camera=(), display-capture=(), fullscreen=(), geolocation=(), " +
	"gyroscope=(), hid=(), magnetometer=(), microphone=(), midi=(), payment=(), picture-in-picture=(), " +
	"publickey-credentials-get=(), screen-wake-lock=(), serial=(), usb=(), xr-spatial-tracking=()"

// strictTransport holds for a month after a visit: long enough to matter, and
// short enough for who goes back to serving without TLS. It does not reach
// beyond this host name (RFC 6797).
const strictTransport = "max-age=2592000"

// maxBody bounds what a client may send.
const maxBody = 64 << 10

// Guard is what every request passes first: headers for browsers, the host
// name, the size of what is sent, and that changes come from this page. Who is
// kept out is told why by keepOut.
func (d *Door) Guard(next http.Handler, keepOut func(http.ResponseWriter, *http.Request, error)) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		keepOut(w, r, answer.Say(answer.Refused, "That came from another web page, so it was not done."))
	}))
	for _, h := range d.hosts { // a proxy may change the host name that we see
		for _, scheme := range []string{"https://", "http://"} {
			if err := cross.AddTrustedOrigin(scheme + h); err != nil {
				d.log.Warn().Err(err).Str("host", h).Msg("the page cannot use this host name as an origin")
			}
		}
	}
	checked := cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.secureHeaders(w.Header())
		if !d.hostFits(r.Host) {
			keepOut(w, r, answer.Say(answer.Refused, "This page is not served under that host name."))
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		checked.ServeHTTP(w, r)
	})
}

func (d *Door) secureHeaders(h http.Header) {
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	// Not "no-referrer": browsers then send no Origin with our own forms, and
	// in a network without TLS nothing else tells where a form came from.
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", permissionsPolicy)
	if d.Secure || d.Loopback.Load() && len(d.hosts) == 0 { // elsewhere browsers do not heed it
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
	}
	if d.promises { // where a proxy speaks TLS, this is for the proxy to say
		h.Set("Strict-Transport-Security", strictTransport)
	}
}

// hostFits guards against a foreign name that was made to point here, by which
// another web page could read this one (DNS rebinding).
func (d *Door) hostFits(hostport string) bool {
	if !d.Loopback.Load() && len(d.hosts) == 0 {
		return true // there is a password, and its cookie belongs to one name
	}
	host := hostport
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		host = h
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if loopback.Host(host) || slices.Contains(d.hosts, host) {
		return true
	}
	_, err := netip.ParseAddr(host)
	return err == nil && d.Locked() // a number cannot be made to point elsewhere
}

// Signed lets only people in who have given the password, if there is one.
func (d *Door) Signed(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if d.MustSignIn(r) {
			return answer.Say(answer.SignedOut, "Sign in first.")
		}
		return h(w, r)
	}
}
