package page

import (
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"golang.org/x/net/html"

	"telltale/gateway/page/words"
)

// TestBrowserGermanPagesFit looks at the main pages in German, whose words are longer:
// nothing is cut off, on something else or wider than the window.
func TestBrowserGermanPagesFit(t *testing.T) {
	t.Parallel()
	g := everything(t)
	b := openTab(t, 390, 780)
	b.enter(g.base, "Ada", password)
	b.truth("German is chosen", `(document.cookie = "`+words.TongueCookie+`=de; path=/", true)`)
	for _, path := range []string{"/", "/alarm?id=" + url.QueryEscape(string(ridgeHigh)), "/back?house=long-house", "/report", "/drill", "/change", "/away", "/device"} {
		b.waiting(g.base, path)
		b.truth(path+" is in German", `document.documentElement.lang === "de"`)
		b.truth("all is open", opened)
		for _, width := range []int64{320, 390, 1280} {
			b.do(chromedp.EmulateViewport(width, 780))
			b.none(fmt.Sprintf("%s in German at %d", path, width), ill)
			b.shot(fmt.Sprintf("german-%s-%d", strings.Trim(strings.NewReplacer("/", "-", "?", "-", "=", "-", "%", "").Replace(path), "-"), width))
		}
	}
}

// english are words that German has not, by which a sentence that was left in English
// is found.
var english = regexp.MustCompile(`(?i)\b(the|and|of|is|are|not|with|your|what|who|nobody|since|this|it)\b`)

// kept are texts of these tests' garden, or such as look English in German too.
var kept = regexp.MustCompile(`the-|thimble-garth|the disk is full|potting shed|push\.example\.org`)

// Pages whose sentences are their own, not the core's, are in German through and
// through for who chose it: no sentence was left, and none lacks what is filled in.
func TestPagesInGerman(t *testing.T) {
	g := everything(t)
	g.signInAs("Ada", password)
	for _, path := range []string{"/", "/wall", "/first", "/away", "/device", "/account", "/modem", "/download", "/told", "/log", "/report", "/report/year?house=long-house", "/loop",
		"/probes", "/probes/bench-1", "/drill", "/no-such-page", "/back?house=long-house", "/alarm?id=x"} {
		text := g.german(t, path)
		if !strings.Contains(text, `<html lang="de">`) {
			t.Errorf("%s: its language is not told to the browser", path)
		}
		if i := strings.Index(text, "%!"); i >= 0 {
			t.Errorf("%s: a sentence lacks something: %.80q", path, text[i:])
		}
		if !strings.Contains(" / /wall /log /report /loop /probes /probes/bench-1 /back?house=long-house /told /drill ", " "+path+" ") {
			for _, one := range shownWords(text) {
				if english.MatchString(one) && !kept.MatchString(one) {
					t.Errorf("%s: %q is not in German", path, one)
				}
			}
		}
	}
	const worker = "Die Wache ist nicht zu erreichen"
	if text := g.german(t, "/worker.js"); !strings.Contains(text, worker) {
		t.Error("the worker does not speak German")
	}
}

// german gets a page for a device that chose German.
func (s *started) german(t *testing.T, path string) string {
	t.Helper()
	r, err := http.NewRequest("GET", s.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", "text/html")
	r.AddCookie(&http.Cookie{Name: words.TongueCookie, Value: "de"})
	a, err := s.client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = a.Body.Close() }()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// shownWords are the texts of a page that are read or heard.
func shownWords(page string) (all []string) {
	found, quoted := html.NewTokenizer(strings.NewReader(strings.ReplaceAll(page, "noscript", "div"))), 0
	for {
		kind := found.Next()
		token := found.Token()
		switch kind {
		case html.ErrorToken:
			return all
		case html.StartTagToken:
			if token.Data == "pre" || token.Data == "script" {
				quoted++
			}
			for _, a := range token.Attr {
				if a.Key == "aria-label" || a.Key == "title" {
					all = append(all, a.Val)
				}
			}
		case html.EndTagToken:
			if token.Data == "pre" || token.Data == "script" {
				quoted--
			}
		case html.TextToken:
			if text := strings.TrimSpace(token.Data); quoted == 0 && text != "" {
				all = append(all, text)
			}
		}
	}
}
