package manual

import (
	"regexp"
	"slices"
	"strings"
	"sync"

	"telltale/alarms/tongue"
)

// Section is what the topic config says of one table of the config.
type Section struct {
	Path []string // of the table; a part in capitals is a name of one's own
	Kind string   // it has these keys beside those of the table where it is of this kind; empty: whatever it is
	Many bool     // it stands once for each thing, in double brackets
	Says string   // sentences, without Markdown
	Keys []Key
}

// Key is a key of a table.
type Key struct {
	Name    string
	Says    string // as the topic has it, with the backquotes of Markdown
	Else    string // what holds if it is left out, likewise
	Example string // a line of the config that has it
}

var (
	sectionHead = regexp.MustCompile("^## `(\\[+)([^\\]]+)\\]+`(?: with `kind = \"([a-z]+)\"`)?$")
	sectionLike = regexp.MustCompile("^Keys as in `\\[+([^\\]]+)\\]+`: (.*)$")
	quotedKey   = regexp.MustCompile("`([a-z-]+)`")
)

// Sections lists the tables of the config in the order of the topic.
func Sections() []Section {
	var all []Section
	body := English.source("config")
	if i := strings.Index(body, "\n## Quantities"); i >= 0 {
		body = body[:i]
	}
	for _, part := range strings.Split(body, "\n## ")[1:] {
		head, rest, _ := strings.Cut(part, "\n")
		m := sectionHead.FindStringSubmatch("## " + head)
		if m == nil {
			continue
		}
		s := Section{Path: strings.Split(m[2], "."), Many: len(m[1]) > 1, Kind: m[3]}
		for _, block := range strings.Split(rest, "\n\n") {
			s.take(strings.TrimSpace(block), all)
		}
		all = append(all, s)
	}
	return all
}

// take reads a paragraph, or a table.
func (s *Section) take(block string, before []Section) {
	joined := strings.ReplaceAll(block, "\n", " ")
	switch m := sectionLike.FindStringSubmatch(joined); {
	case m != nil:
		i := slices.IndexFunc(before, func(o Section) bool { return strings.Join(o.Path, ".") == m[1] })
		if i < 0 {
			return // the tests of the topic know that it is there
		}
		for _, name := range quotedKey.FindAllStringSubmatch(m[2], -1) {
			for _, k := range before[i].Keys {
				if k.Name == name[1] {
					s.Keys = append(s.Keys, k)
				}
			}
		}
	case strings.HasPrefix(block, "|"):
		for _, line := range strings.Split(block, "\n")[2:] {
			s.row(line)
		}
	case block != "":
		s.Says = strings.TrimSpace(s.Says + " " + strings.ReplaceAll(joined, "`", ""))
	}
}

// row reads a line of a table, whose keys may be several that say the same.
func (s *Section) row(line string) {
	cells := strings.Split(strings.Trim(line, "|"), " | ")
	if len(cells) != 4 {
		return
	}
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	for _, name := range quotedKey.FindAllStringSubmatch(cells[0], -1) {
		s.Keys = append(s.Keys, Key{name[1], cells[1], cells[2], strings.Trim(cells[3], "`")})
	}
}

// Says is a sentence of a section or of a key of Sections in the language of in. The
// table of the sentences is keys.de.md, for German.
func (in In) Says(sentence string) string {
	if said, ok := keys()[in][sentence]; ok {
		return said
	}
	return sentence
}

// keys are the tables of sentences, English first, by language.
var keys = sync.OnceValue(func() map[In]map[string]string {
	all := map[In]map[string]string{}
	for _, t := range tongue.Tongues() {
		all[In(t)] = map[string]string{}
		table, _ := files.ReadFile("keys." + string(t) + ".md") // English has none
		for line := range strings.Lines(string(table)) {
			if cells := strings.Split(strings.Trim(line, "|\n "), " | "); len(cells) == 2 {
				all[In(t)][cells[0]] = cells[1]
			}
		}
	}
	return all
})
