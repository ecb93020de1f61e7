package page

import (
	"bytes"
	"strings"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// withoutActs returns a page, or a part of one, without the forms that act:
// for who may look only. They are taken out here and not left out by each
// template, so that none can be forgotten. What only folds such a form away
// goes with it.
func (s *Server) withoutActs(page []byte) []byte {
	l := looking{acts: s.acts, open: []*fold{{}}}
	z := html.NewTokenizer(bytes.NewReader(page))
	for {
		kind := z.Next()
		if kind == html.ErrorToken { // the end: the input is in memory
			for len(l.open) > 1 { // a fold that is never closed stays as it is
				l.shut(true)
			}
			return l.open[0].text.Bytes()
		}
		raw := bytes.Clone(z.Raw())
		l.take(kind, z.Token(), raw)
	}
}

// looking is what is left of a page so far.
type looking struct {
	acts map[string]bool // addresses of forms that act
	open []*fold         // the page itself, then the folds that are open
	skip bool            // within a form that is taken out
}

// fold is one <details>, or the page.
type fold struct {
	text    bytes.Buffer
	lost    bool // a form was taken out
	holds   bool // something else than its summary and the form
	summary bool // within the summary
}

func (l *looking) take(kind html.TokenType, t html.Token, raw []byte) {
	top := l.open[len(l.open)-1]
	switch {
	case l.skip:
		l.skip = !(kind == html.EndTagToken && t.DataAtom == atom.Form)
	case kind == html.StartTagToken && t.DataAtom == atom.Form && l.act(t):
		l.skip, top.lost = true, true
	case kind == html.StartTagToken && t.DataAtom == atom.Details:
		one := &fold{}
		one.text.Write(raw)
		l.open = append(l.open, one)
	case kind == html.EndTagToken && t.DataAtom == atom.Details && len(l.open) > 1:
		top.text.Write(raw)
		l.shut(top.holds || !top.lost)
	default:
		if t.DataAtom == atom.Summary {
			top.summary = kind == html.StartTagToken
		} else if !top.summary && (kind == html.StartTagToken || kind == html.SelfClosingTagToken || len(bytes.TrimSpace(raw)) > 0 && kind == html.TextToken) {
			top.holds = true
		}
		top.text.Write(raw)
	}
}

// shut closes the innermost fold, and keeps it or not.
func (l *looking) shut(keep bool) {
	n := len(l.open) - 1
	inner := l.open[n]
	l.open = l.open[:n]
	if !keep {
		l.open[n-1].lost = true
		return
	}
	l.open[n-1].holds = true
	l.open[n-1].text.Write(inner.text.Bytes())
}

// act reports whether a form acts.
func (l *looking) act(form html.Token) bool {
	for _, a := range form.Attr {
		if a.Key == "action" {
			path, _, _ := strings.Cut(a.Val, "?")
			return l.acts[path]
		}
	}
	return false
}

// looksOnly reports whether the page that has this frame is for who may look
// only.
func (f frame) looksOnly() bool { return !f.MayAct }
