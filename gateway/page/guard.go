package page

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
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

// guard is what every request passes first: headers for browsers, the host
// name, the size of what is sent, and that changes come from this page.
func (s *Server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(s.answer(func(http.ResponseWriter, *http.Request) error {
		return faultf(kindRefused, "That came from another web page, so it was not done.")
	}))
	for _, h := range s.options.Hosts { // a proxy may change the host name that we see
		for _, scheme := range []string{"https://", "http://"} {
			if err := cross.AddTrustedOrigin(scheme + h); err != nil {
				s.log.Warn().Err(err).Str("host", h).Msg("the page cannot use this host name as an origin")
			}
		}
	}
	checked := cross.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.secureHeaders(w.Header())
		if !s.hostFits(r.Host) {
			s.fail(w, r, faultf(kindRefused, "This page is not served under that host name."))
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		checked.ServeHTTP(w, r)
	})
}

func (s *Server) secureHeaders(h http.Header) {
	h.Set("Content-Security-Policy", contentPolicy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	// Not "no-referrer": browsers then send no Origin with our own forms, and
	// in a network without TLS nothing else tells where a form came from.
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", permissionsPolicy)
	if s.sessions.secure || s.loopback.Load() && len(s.options.Hosts) == 0 { // elsewhere browsers do not heed it
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
	}
	if s.tls != nil { // where a proxy speaks TLS, this is for the proxy to say
		h.Set("Strict-Transport-Security", strictTransport)
	}
}

// hostFits guards against a foreign name that was made to point here, by which
// another web page could read this one (DNS rebinding).
func (s *Server) hostFits(hostport string) bool {
	if !s.loopback.Load() && len(s.options.Hosts) == 0 {
		return true // there is a password, and its cookie belongs to one name
	}
	host := hostport
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		host = h
	}
	host = strings.ToLower(strings.Trim(host, "[]"))
	if loopbackHost(host) || slices.Contains(s.options.Hosts, host) {
		return true
	}
	_, err := netip.ParseAddr(host)
	return err == nil && s.locked // a number cannot be made to point elsewhere
}

// timely ends what a handler asks for while there is still time to say so. A
// disk that does not answer keeps no visitor waiting for good.
func (s *Server) timely(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		ctx, cancel := context.WithTimeout(r.Context(), s.limits.write*5/6)
		defer cancel()
		err := h(w, r.WithContext(ctx))
		var f *fault
		if errors.Is(err, context.DeadlineExceeded) && !errors.As(err, &f) {
			return &fault{Kind: kindAway, Say: "The disk of the watch does not answer in time. Alarms are told all the same.", Err: err, After: 30}
		}
		return err
	}
}

// signed lets only people in who have given the password, if there is one.
func (s *Server) signed(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if s.locked && !s.sessions.signedIn(r) {
			return faultf(kindSignedOut, "Sign in first.")
		}
		return h(w, r)
	}
}

// tokened lets a form through that carries its visitor's token.
func (s *Server) tokened(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if err := r.ParseForm(); err != nil {
			return &fault{Kind: kindInvalid, Say: "That form could not be read.", Err: err}
		}
		if !s.sessions.tokenFits(s.sessions.visitor(r), r.PostForm.Get("token")) {
			return faultf(kindRefused, "This page is from before the watch was started, so nothing was done. "+
				"Load the page again and repeat it. If that does not help, this browser refuses cookies.")
		}
		return h(w, r)
	}
}
