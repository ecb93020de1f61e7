package reach

import (
	"context"
	"crypto/ecdh"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strings"
	"syscall"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/loopback"
)

const maxEndpoint = 2048 // characters

// inner are networks that a push service is never in, beside those that netip
// knows: an address that a browser hands in must not make the watch knock on
// its own house. From memory of the IANA special-purpose address registries.
var inner = []string{"0.0.0.0/8", "100.64.0.0/10", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "198.18.0.0/15", "198.51.100.0/24",
	"203.0.113.0/24", "240.0.0.0/4", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32", "2002::/16", "fec0::/10"}

// outside reports whether a push service may have the address.
func outside(ip netip.Addr) bool {
	ip = ip.Unmap()
	if !ip.IsGlobalUnicast() || ip.IsPrivate() || ip.IsLoopback() || ip.Zone() != "" {
		return false
	}
	return !slices.ContainsFunc(inner, func(text string) bool { return netip.MustParsePrefix(text).Contains(ip) })
}

// checkEndpoint reads the address at which a device is told. It is a secret
// and in no error. With onLoopback this machine may be the push service too.
func checkEndpoint(endpoint string, onLoopback bool) (*url.URL, error) {
	u, err := url.Parse(endpoint)
	switch {
	case len(endpoint) > maxEndpoint:
		return nil, tongue.Put("the address of the push service is longer than %d characters", maxEndpoint)
	case err != nil || u.Hostname() == "" || u.Opaque != "" || u.User != nil || u.Fragment != "":
		return nil, tongue.Put("the address of the push service is no whole web address")
	case onLoopback && loopback.Host(u.Hostname()) && (u.Scheme == "http" || u.Scheme == "https"):
		return u, nil
	case u.Scheme != "https":
		return nil, tongue.Put("the address of the push service at %s must begin with https://", u.Host)
	}
	host := strings.TrimSuffix(strings.ToLower(u.Hostname()), ".")
	if ip, err := netip.ParseAddr(host); err == nil && !outside(ip) || host == "localhost" || strings.HasSuffix(host, ".localhost") {
		return nil, tongue.Put("the push service at %s is in an inner network, where none is", u.Host)
	}
	return u, nil
}

// CheckDevice reports what is wrong with a device that wants to be told.
func CheckDevice(d Device, onLoopback bool) error {
	if _, err := checkEndpoint(d.Endpoint, onLoopback); err != nil {
		return err
	}
	if _, err := ecdh.P256().NewPublicKey(d.Key); err != nil || len(d.Key) != pointBytes {
		return tongue.Put("the device's key is no uncompressed point of P-256 (got %d bytes)", len(d.Key))
	}
	if len(d.Auth) != authBytes {
		return tongue.Put("the device's secret must have %d bytes (got %d)", authBytes, len(d.Auth))
	}
	return nil
}

// pushClient calls push services: no redirects, no proxy, and no address of an
// inner network, whatever name leads there.
func pushClient(roots *x509.CertPool, onLoopback bool) *http.Client {
	dialer := &net.Dialer{Timeout: webhookDials, ControlContext: func(_ context.Context, _, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err == nil && (outside(at.Addr()) || onLoopback && at.Addr().Unmap().IsLoopback()) {
			return nil
		}
		return errors.New("its name leads into an inner network, where no push service is")
	}}
	return &http.Client{
		Timeout:       webhookWaits,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		Transport: &http.Transport{
			DialContext:            dialer.DialContext,
			TLSClientConfig:        &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12},
			TLSHandshakeTimeout:    webhookDials,
			ResponseHeaderTimeout:  webhookAnswer,
			MaxResponseHeaderBytes: mostHeader,
			MaxIdleConns:           4,
			MaxIdleConnsPerHost:    2,
			IdleConnTimeout:        time.Minute,
			ForceAttemptHTTP2:      true,
		},
	}
}
