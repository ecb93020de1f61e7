// Package manual is what the program carries to be read: how to set it up, what
// each key and each alarm means, what to do when something goes wrong.
//
// It promises that a topic is the same text on the terminal and on the page, and
// that links lead only to other topics of it. The texts are the Markdown files of
// this directory: topic.md in English, and topic.de.md in German, where there is one.
// It knows nothing of the rest of the program.
package manual

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"regexp"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"

	"telltale/alarms/tongue"
)

//go:embed *.md
var files embed.FS

// In is the manual in a language, as far as it is written in that, else in English.
type In tongue.Tongue

// English is the manual as it was written.
const English = In(tongue.English)

// ErrNoTopic is within the error for a topic that is not there.
var ErrNoTopic = errors.New("there is no such topic")

// Topic is one text of the manual.
type Topic struct {
	Name  string // what it is asked for by: lower-case letters
	Title string
}

// order is the order in which one would read them.
var order = []string{"start", "probes", "broker", "limits", "outlook", "thermostat", "loop", "people", "phone", "modem", "signals",
	"page", "figures", "install", "store", "copies", "companion", "commands", "config", "alarms", "trouble"}

// Topics lists all topics in the order in which one would read them.
func (in In) Topics() []Topic {
	var out []Topic
	for _, name := range order {
		first, _, _ := strings.Cut(in.source(name), "\n")
		out = append(out, Topic{name, strings.TrimPrefix(first, "# ")})
	}
	return out
}

// source returns the Markdown of a topic, "" of one that is not there.
func (in In) source(name string) string {
	b, err := files.ReadFile(name + "." + string(in) + ".md")
	if err != nil {
		b, err = files.ReadFile(name + ".md")
	}
	if err != nil {
		return ""
	}
	return string(b)
}

// links are those from one topic to another.
var links = regexp.MustCompile(`\[([^\]]+)\]\(([a-z]+)\.md\)`)

// Text returns a topic as Markdown that is read as it is, on a terminal. The
// error is ErrNoTopic within a sentence that names what there is.
func (in In) Text(name string) (string, error) {
	s := in.source(name)
	if s == "" {
		return "", missing(name)
	}
	return links.ReplaceAllString(s, "$1 (telltale manual $2)"), nil
}

func missing(name string) error {
	return fmt.Errorf("%w in the manual (got %q): want one of %s", ErrNoTopic, name, strings.Join(order, ", "))
}

// HTML returns a topic as HTML, its links made by to from the name of a topic.
// The error is as that of Text.
func (in In) HTML(name string, to func(topic string) string) (template.HTML, error) {
	s := in.source(name)
	if s == "" {
		return "", missing(name)
	}
	md := goldmark.New(goldmark.WithExtensions(extension.Table),
		goldmark.WithParserOptions(parser.WithAutoHeadingID(), parser.WithASTTransformers(util.Prioritized(linking(to), 100))))
	var b bytes.Buffer
	if err := md.Convert([]byte(s), &b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil //nolint:gosec // made of the program's own files, without raw HTML
}

// linking leads the links between topics to where they are.
type linking func(topic string) string

func (to linking) Transform(doc *ast.Document, _ text.Reader, _ parser.Context) {
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) { // it returns what this returns
		if l, ok := n.(*ast.Link); ok && entering {
			if name, ok := strings.CutSuffix(string(l.Destination), ".md"); ok {
				l.Destination = []byte(to(name))
			}
		}
		return ast.WalkContinue, nil
	})
}

// Passage is a part of a topic in which words were found.
type Passage struct {
	Topic
	Heading string // that it stands under, which may be the title
	Text    string // on one line, without marks
}

// Find returns the passages (a paragraph, a point of a list, a row of a table or a
// block of code with its heading) that hold all of the words, in whatever case and
// order; none for no words.
func (in In) Find(words string) []Passage {
	want := strings.Fields(strings.ToLower(words))
	if len(want) == 0 {
		return nil
	}
	var out []Passage
	for _, t := range in.Topics() {
		for _, p := range in.passages(t) {
			all := strings.ToLower(p.Heading + " " + p.Text)
			holds := true
			for _, w := range want {
				holds = holds && strings.Contains(all, w)
			}
			if holds {
				out = append(out, p)
			}
		}
	}
	return out
}

// passages cuts a topic into what can be found.
func (in In) passages(t Topic) []Passage {
	var out []Passage
	heading, now, code := t.Title, []string{}, false
	end := func() {
		if len(now) > 0 {
			out = append(out, Passage{t, heading, plain(strings.Join(now, " "))})
		}
		now = nil
	}
	for line := range strings.Lines(in.source(t.Name)) {
		line = strings.TrimRight(line, "\n")
		trimmed := strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "```"):
			code = !code
		case !code && strings.HasPrefix(line, "#"):
			end()
			heading = strings.TrimLeft(line, "# ")
		case !code && strings.HasPrefix(line, "|---"):
			end()
		case !code && trimmed == "":
			end()
		case !code && (strings.HasPrefix(line, "- ") || strings.HasPrefix(line, "| ")):
			end()
			now = append(now, strings.TrimPrefix(line, "- "))
		case trimmed != "":
			now = append(now, trimmed)
		}
	}
	end()
	return out
}

// marks are those of Markdown for strong, stressed and literal words.
var marks = regexp.MustCompile("\\*\\*|`|\\*\\b|\\b\\*")

// plain takes the marks out of a passage; the cells of a row stay apart.
func plain(s string) string {
	s = marks.ReplaceAllString(links.ReplaceAllString(s, "$1"), "")
	if row, ok := strings.CutPrefix(s, "| "); ok {
		s = strings.ReplaceAll(strings.TrimSuffix(row, " |"), " | ", " · ")
	}
	return s
}
