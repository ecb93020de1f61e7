package tongue_test

import (
	"errors"
	"go/token"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"text/template/parse"

	"golang.org/x/net/html"
)

const page = "../../gateway/page/"

// readTemplates takes what the page's templates say by their function say.
func (s *said) readTemplates(t *testing.T) {
	t.Helper()
	for name, tree := range templates(t) {
		for _, text := range saidIn(tree.Root) {
			s.texts[text] = token.Position{Filename: name}
		}
	}
}

// templates are the trees of all templates of the page, by file and name.
func templates(t *testing.T) map[string]*parse.Tree {
	t.Helper()
	files, err := filepath.Glob(page + "templates/*.html")
	files = append(files, "../../gateway/entry/page.html")
	if err != nil || len(files) == 0 {
		t.Fatalf("no templates: %v", err)
	}
	all := map[string]*parse.Tree{}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		trees := map[string]*parse.Tree{}
		one := parse.New(filepath.Base(file))
		one.Mode = parse.SkipFuncCheck
		if _, err := one.Parse(string(text), "", "", trees); err != nil {
			t.Fatal(err)
		}
		for name, tree := range trees {
			if tree.Root != nil {
				all[filepath.Base(file)+" "+name] = tree
			}
		}
	}
	return all
}

// saidIn are the texts that are given to say below n.
func saidIn(n parse.Node) (all []string) {
	below := func(nodes ...parse.Node) {
		for _, one := range nodes {
			all = append(all, saidIn(one)...)
		}
	}
	switch x := n.(type) {
	case *parse.ListNode:
		if x != nil {
			below(x.Nodes...)
		}
	case *parse.ActionNode:
		below(x.Pipe)
	case *parse.PipeNode:
		if x != nil {
			for _, c := range x.Cmds {
				below(c)
			}
		}
	case *parse.CommandNode:
		if f, ok := x.Args[0].(*parse.IdentifierNode); ok && f.Ident == "say" && len(x.Args) > 1 {
			if text, ok := x.Args[1].(*parse.StringNode); ok {
				all = append(all, text.Text)
			}
		}
		below(x.Args...)
	case *parse.TemplateNode:
		below(x.Pipe)
	case *parse.IfNode:
		below(x.Pipe, x.List, x.ElseList)
	case *parse.RangeNode:
		below(x.Pipe, x.List, x.ElseList)
	case *parse.WithNode:
		below(x.Pipe, x.List, x.ElseList)
	}
	return all
}

// asItStands are elements whose text is no word to a reader, or is to be typed.
var asItStands = map[string]bool{"pre": true, "code": true, "style": true, "script": true}

// A template says what it says by its function say: nothing that is read or heard
// stands in it as it is.
func TestTemplatesHoldNoWords(t *testing.T) {
	words := regexp.MustCompile(`[A-Za-z][a-z]`)
	for name, tree := range templates(t) {
		var text strings.Builder
		markup(&text, tree.Root)
		found := html.NewTokenizer(strings.NewReader(strings.ReplaceAll(text.String(), "noscript", "div"))) // what is in it is read too
		quoted := 0                                                                                         // in what is to be typed as it stands
		for {
			kind := found.Next()
			if kind == html.ErrorToken {
				if !errors.Is(found.Err(), io.EOF) {
					t.Errorf("%s: %v", name, found.Err())
				}
				break
			}
			token := found.Token()
			switch kind {
			case html.StartTagToken:
				if asItStands[token.Data] {
					quoted++
				}
				for _, a := range token.Attr {
					if slices.Contains([]string{"aria-label", "title", "placeholder", "alt"}, a.Key) && words.MatchString(a.Val) {
						t.Errorf("%s: %s=%q: say it", name, a.Key, a.Val)
					}
				}
			case html.EndTagToken:
				if asItStands[token.Data] {
					quoted--
				}
			case html.TextToken:
				if quoted == 0 && words.MatchString(token.Data) {
					t.Errorf("%s: %q: say it", name, token.Data)
				}
			}
		}
	}
}

// markup writes the markup of a template, of each branch one after the other.
func markup(to *strings.Builder, n parse.Node) {
	switch x := n.(type) {
	case *parse.ListNode:
		if x != nil {
			for _, one := range x.Nodes {
				markup(to, one)
			}
		}
	case *parse.TextNode:
		to.Write(x.Text)
	case *parse.IfNode:
		markup(to, x.List)
		markup(to, x.ElseList)
	case *parse.RangeNode:
		markup(to, x.List)
		markup(to, x.ElseList)
	case *parse.WithNode:
		markup(to, x.List)
		markup(to, x.ElseList)
	}
}

var (
	remarks  = regexp.MustCompile(`(?m)(^|\s)//.*$`)
	literals = regexp.MustCompile(`"(?:[^"\\\n]|\\.)*"|'(?:[^'\\\n]|\\.)*'`)
	// settings are literals that say something to the browser alone.
	settings = []string{`"use strict"`, `"width=device-width, initial-scale=1"`, `"light dark"`}
)

// A script has what it says from the page that it comes with.
func TestScriptsHoldNoWords(t *testing.T) {
	files, err := filepath.Glob(page + "static/js/*.js")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	for _, file := range append(files, page+"static/worker.js") {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, one := range literals.FindAllString(remarks.ReplaceAllString(string(text), ""), -1) {
			if sounds.MatchString(one) && !slices.Contains(settings, one) {
				t.Errorf("%s: %s: take it from the page", filepath.Base(file), one)
			}
		}
	}
}
