package metrics

import (
	"net"
	"net/http"
	"net/netip"
	"strings"
)

// ByNumber refuses, where h is served on loopback, requests under any name but
// localhost: a name can be made to point here, by which a web page that
// somebody has open could read the figures (DNS rebinding). Numbers cannot.
func ByNumber(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		at, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
		host := r.Host
		if name, _, err := net.SplitHostPort(host); err == nil {
			host = name
		}
		_, notNumber := netip.ParseAddr(strings.Trim(host, "[]"))
		if at != nil && onLoopback(at) && notNumber != nil && !strings.EqualFold(host, "localhost") {
			http.Error(w, "The figures are not served under that host name.", http.StatusMisdirectedRequest)
			return
		}
		h.ServeHTTP(w, r)
	})
}

func onLoopback(a net.Addr) bool {
	at, err := netip.ParseAddrPort(a.String())
	return err == nil && at.Addr().Unmap().IsLoopback()
}
