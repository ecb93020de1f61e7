package main

import (
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"fmt"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/chromedp/chromedp"
)

// other returns a free port at an address of loopback that is not the usual one.
func other(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.2:0")
	if err != nil {
		t.Skipf("this machine has no second address of loopback: %v", err)
	}
	defer l.Close()
	return l.Addr().String()
}

var codeTold = regexp.MustCompile(`from another machine is ([0-9A-Z]{4}-[0-9A-Z]{4}):`)

// told waits for the nth code, and returns it with the address and the fingerprint
// that go with it.
func (p *program) told(nth int) (code, open, fingerprint string) {
	p.t.Helper()
	text := fmt.Sprint(p.line("The code for the first set-up", nth)["message"])
	m := codeTold.FindStringSubmatch(text)
	if m == nil {
		p.t.Fatalf("there is no code in %q", text)
	}
	return m[1], fmt.Sprint(p.line("in a browser on this network", nth)["open"]), fmt.Sprint(p.line("SHA-256 fingerprint", nth)["fingerprint"])
}

// keyOf is what a browser calls the key that is served there, whose certificate must
// have the fingerprint.
func keyOf(t *testing.T, address, fingerprint string) string {
	t.Helper()
	c, err := tls.Dial("tcp", address, &tls.Config{InsecureSkipVerify: true})
	ok(t, err)
	defer c.Close()
	leaf := c.ConnectionState().PeerCertificates[0]
	if got := fmt.Sprintf("%X", sha256.Sum256(leaf.Raw)); got != strings.ReplaceAll(fingerprint, ":", "") {
		t.Fatalf("the certificate has the fingerprint %s, told was %s", got, fingerprint)
	}
	sum := sha256.Sum256(leaf.RawSubjectPublicKeyInfo)
	return base64.StdEncoding.EncodeToString(sum[:])
}

const ownPassword = "four plain garden words"

// From a board on which nothing is set up to a page with an account, in a browser on
// another machine.
func TestFromAnotherMachineAlone(t *testing.T) {
	t.Parallel()
	at, far := free(t, 2), other(t)
	file := filepath.Join(t.TempDir(), "thimble-garth.toml")
	own := fmt.Sprintf("[page]\naddress = %q\n\n[own-broker]\naddress = %q\n\n[store]\ndirectory = \"kept\"\n", at[0], at[1])
	ok(t, os.WriteFile(file, []byte(own), 0o600))
	p := start(t, "watch", file, "--first-at", far)
	old, _, _ := p.told(1)
	ok(t, p.cmd.Process.Signal(syscall.SIGHUP)) // a new code can be had at any time
	code, open, fingerprint := p.told(2)
	if code == old || open != "https://"+far+"/" {
		t.Errorf("the second code is %s at %s, the first was %s", code, open, old)
	}
	b := openBrowser(t, chromedp.Flag("ignore-certificate-errors-spki-list", keyOf(t, far, fingerprint)))
	b.do(chromedp.Navigate(open))
	b.truth("it asks for the code", `document.getElementById("code")`)
	b.shot("begin-1-code")
	b.do(chromedp.SendKeys(chromedp.ID("code"), old), chromedp.Click(chromedp.CSS("button")))
	b.truth("the old code is none", `document.body.innerText.includes("That is not the code: 4 tries are left.")`)
	b.shot("begin-2-wrong")
	b.do(chromedp.SendKeys(chromedp.ID("code"), strings.ToLower(strings.ReplaceAll(code, "-", ""))), chromedp.Click(chromedp.CSS("button")))
	b.truth("it asks for an account", `document.getElementById("again")`)
	b.do(chromedp.SendKeys(chromedp.ID("name"), "Ada Lark"), chromedp.SendKeys(chromedp.ID("password"), ownPassword),
		chromedp.SendKeys(chromedp.ID("again"), ownPassword))
	b.shot("begin-3-account")
	b.do(chromedp.Click(chromedp.CSS("button")))
	b.truth("the page opens by itself", `document.getElementById("account")`)
	b.shot("begin-4-signin")
	b.do(chromedp.SendKeys(chromedp.ID("account"), "ada-lark"), chromedp.SendKeys(chromedp.ID("password"), ownPassword), chromedp.Click(chromedp.CSS(".signin button")))
	b.truth("it leads on to the set-up", `document.querySelector('.topwarning a[href="/first"]')`)
	b.do(chromedp.Click(chromedp.CSS(".topwarning a")))
	b.truth("the set-up is there", `document.getElementById("arrivals")`)
	u, err := url.Parse(open)
	ok(t, err)
	keyOf(t, u.Host, fingerprint) // it is still the certificate that was told
	p.stop(syscall.SIGTERM)
	text, err := os.ReadFile(file)
	ok(t, err)
	if strings.Contains(p.stderr(), ownPassword) || strings.Contains(string(text), ownPassword) {
		t.Error("the password is written where others read it")
	}
	// A new start asks nobody for a code any more.
	p = start(t, "watch", file, "--first-at", far)
	p.line("nothing is watched yet", 1)
	p.stop(syscall.SIGTERM)
	if strings.Contains(p.stderr(), "The code for the first set-up") {
		t.Error("the garden is opened again")
	}
}
