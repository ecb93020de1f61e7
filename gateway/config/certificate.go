package config

import (
	"crypto/tls"
	"crypto/x509"
	"os"
)

// authority reads the name of a file with certificates of authorities.
func (t *table) authority(key string) value[string] {
	v, data := t.existing(key)
	if v.Set && !x509.NewCertPool().AppendCertsFromPEM(data) {
		t.problem(v.at, "holds no certificate in PEM form (%s)", v.V)
	}
	return v
}

// pair reads the names of a certificate's file and its key's.
func (t *table) pair() (cert, key string) {
	c, certPEM := t.existing("certificate-file")
	k, keyPEM := t.existing("key-file")
	if c.Seen != k.Seen {
		t.problem(t.at, "certificate-file and key-file belong together: give both or neither")
	}
	if c.Set && k.Set {
		if _, err := tls.X509KeyPair(certPEM, keyPEM); err != nil {
			t.problem(c.at, "does not go with its key-file, both in PEM form: %s", Reason(err))
		}
	}
	return c.V, k.V
}

// ownAuthority reads whether the page has certificates of the board's own authority.
func (t *table) ownAuthority(p Page) bool {
	own := t.flag("own-authority")
	switch {
	case !own.V:
	case t.has("certificate-file"):
		t.problem(own.at, "makes certificates of its own, and certificate-file names one: keep one of them")
	case p.ProxyTLS:
		t.problem(own.at, "makes the page speak TLS, which a proxy does by behind-tls-proxy: keep one of them")
	}
	return own.V
}

// TLS reports whether the page speaks it.
func (p Page) TLS() bool { return p.CertFile != "" || p.OwnAuthority }

// existing reads the name of a file that must be there, and the file.
func (t *table) existing(key string) (value[string], []byte) {
	v := t.text(key)
	if !v.Set {
		return v, nil
	}
	as := v.V
	if text, ok := t.r.fresh[as]; ok {
		v.V = t.r.path(as)
		return v, []byte(text)
	}
	v.V = t.r.secretPath(as)
	t.r.named = append(t.r.named, Named{As: as, Path: v.V})
	data, err := os.ReadFile(v.V)
	if err != nil {
		t.problem(v.at, "cannot be read: %s (%s)", Reason(err), v.V)
		v.Set = false
	}
	return v, data
}
