package forms

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/manual"
)

// Field is one value of a form.
type Field struct {
	Name    string // in the form
	Label   string // a sentence without its full stop
	Hint    string
	Value   string
	Choices []Choice // it is one of these
	Offers  []string // it may be one of these
	Wrong   string
	Needed  bool
	Figure  bool // a number is usual
	Secret  bool // what stands is never shown
	Shown   bool // a secret that was just made, and is shown until it is written

	in   tongue.Tongue
	path []string // of its table
	key  string   // empty: it asks what that table is called
	is   sort
	to   []string // of the name of a new drive: the stage that switches it
	says bool     // of what something new is called: its key name says it as it was typed
}

// Choice is one of a list.
type Choice struct{ Value, Words string }

// sort of a value.
type sort uint8

const (
	words  sort = iota
	figure      // a number, or words where the config takes them
	length      // words with a unit, or a number
	yesNo
	list
)

var (
	choiceWords = regexp.MustCompile("`\"([^\"]+)\"`")
	listed      = regexp.MustCompile("`([a-z-]+)`")
	placeholder = regexp.MustCompile(`\b[A-Z]{4,}\b`)
	withUnit    = regexp.MustCompile(`^[0-9.]+ \S`)
)

// plainly is a sentence of the manual without its Markdown.
func (b builder) plainly(s string) string {
	return strings.NewReplacer("`[]`", b.Say(none), "`true`", b.Say(yes), "`false`", b.Say(no), "`", "", `"`, "").Replace(b.said(s))
}

const (
	none tongue.Text = "none|a list" // an empty one, where that is not the same as no list
	yes  tongue.Text = "yes"
	no   tongue.Text = "no"
)

func upper(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// field makes the field of a key, as it stands at value.
func (b builder) field(name string, path []string, k manual.Key, value any) Field {
	f := Field{Name: name, path: path, key: k.Name, in: b.Tongue, Label: upper(b.Say("%s: %s|a key", strings.ReplaceAll(k.Name, "-", " "), b.plainly(k.Says))), Needed: strings.HasPrefix(k.Else, "needed")}
	example := exampleOf(k)
	switch v := example.(type) {
	case int64, float64:
		f.is, f.Figure = figure, true
	case bool:
		f.is = yesNo
		f.Choices = []Choice{{"", b.Say("left out")}, {string(yes), b.Say(yes)}, {string(no), b.Say(no)}}
	case []any:
		f.is = list
	case string:
		if withUnit.MatchString(v) {
			f.is = length
		}
	}
	f.Offers = b.offers(path, k)
	if f.is == words && (strings.HasPrefix(k.Says, "`\"") || strings.HasSuffix(k.Name, "priority")) {
		f.Choices = append([]Choice{{"", b.Say("left out")}}, walk.Each(f.Offers, func(o string) Choice { return b.choice(k.Name, o) })...)
		f.Offers = nil
	}
	f.Value = b.shown(value)
	if f.Value != "" && len(f.Choices) > 0 && !slices.ContainsFunc(f.Choices, func(c Choice) bool { return c.Value == f.Value }) {
		f.Choices = append(f.Choices, b.choice(k.Name, f.Value))
	}
	f.Hint = b.hint(&f, k, example)
	return f
}

// hint says what holds without a value, and how one looks.
func (b builder) hint(f *Field, k manual.Key, example any) string {
	var all []string
	if k.Else != "" && !f.Needed {
		all = append(all, b.Say("Left empty: %s.", placeholder.ReplaceAllString(b.plainly(k.Else), b.Say("its name in the file"))))
	}
	if f.Needed && k.Else != "needed" {
		all = append(all, upper(b.plainly(k.Else))+".")
	}
	switch {
	case len(f.Choices) > 0:
	case f.is == list && len(f.Offers) > 0:
		all = append(all, b.Say("One or several, with commas between: %s.", strings.Join(f.Offers, ", ")))
		f.Offers = nil
	case f.is == list:
		all = append(all, b.Say("With commas between, such as %s.", b.shown(example)))
	case len(f.Offers) == 0 && b.shown(example) != "":
		all = append(all, b.Say("Such as %s.", b.shown(example)))
	}
	return strings.Join(all, " ")
}

// exampleOf is the value that the manual shows.
func exampleOf(k manual.Key) any {
	var v map[string]any
	if toml.Unmarshal([]byte(k.Example), &v) != nil {
		return nil
	}
	for name, one := range v {
		if table, ok := one.(map[string]any); ok && name != k.Name {
			return table[k.Name]
		}
		return one
	}
	return nil
}

// shown is a value of the file as people write it.
func (b builder) shown(v any) string {
	switch v := v.(type) {
	case string:
		return v
	case int64:
		return strconv.FormatInt(v, 10)
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	case bool:
		if v {
			return string(yes)
		}
		return string(no)
	case []any:
		if len(v) == 0 {
			return b.Say(none)
		}
		return strings.Join(walk.Each(v, func(one any) string { return fmt.Sprint(one) }), ", ")
	}
	return ""
}

// tables reports whether a value is made of tables, which have forms of their own.
func tables(v any) bool {
	switch v := v.(type) {
	case map[string]any:
		return true
	case []any:
		return slices.ContainsFunc(v, tables)
	}
	return false
}

// value is what was written into a field, for the file; nil: it is left out.
func (f *Field) value() any {
	text := strings.TrimSpace(f.Value)
	if text == "" {
		return nil
	}
	n, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "−", "-").Replace(text), 64)
	switch {
	case f.is == yesNo:
		return text == string(yes)
	case f.is == list:
		all := []string{}
		if text == f.in.Say(none) {
			return all
		}
		for _, one := range strings.Split(text, ",") {
			if one = strings.TrimSpace(one); one != "" {
				all = append(all, one)
			}
		}
		return all
	case (f.is == figure || f.is == length) && err == nil && n-n == 0:
		return n
	}
	return text
}

// offers are what there is of what a key names.
func (b builder) offers(path []string, k manual.Key) []string {
	house := func(what string) []string {
		if len(path) < 2 || path[0] != "house" {
			return nil
		}
		return b.d.Names("house", path[1], what)
	}
	switch k.Name {
	case "crop":
		return crop.Names()
	case "probe", "witness", "fan-power":
		return b.d.Names("probe")
	case "drives", "with", "never-with", "follow", "on", "off", "covered", "fan":
		return house("drive")
	case "circuit", "fed-by":
		if path[0] == "probe" {
			return b.circuits()
		}
		return house("circuit")
	case "place", "air-from":
		if path[0] == "probe" {
			return b.places()
		}
		return house("place")
	case "starts-at":
		return b.d.Names(append(slices.Clone(path), "position")...)
	case "shut":
		return b.d.Names("house", path[1], "loop", "pipe")
	case "people":
		return b.d.Names("person")
	case "channels":
		return b.d.Names("channel")
	case "houses":
		return b.d.Names("house")
	case "seasons", "barred":
		return walk.Each(alarms.Seasons[:], func(s alarms.Season) string { return string(s) })
	case "quantity":
		return walk.Each(listed.FindAllStringSubmatch(k.Says, -1), func(m []string) string { return m[1] })
	}
	if strings.HasSuffix(k.Name, "priority") {
		return []string{"low", "medium", "high"}
	}
	return walk.Each(choiceWords.FindAllStringSubmatch(k.Says, -1), func(m []string) string { return m[1] })
}

func (b builder) circuits() (all []string) {
	for _, h := range b.d.Names("house") {
		all = append(all, b.d.Names("house", h, "circuit")...)
	}
	return all
}

func (b builder) places() (all []string) {
	for _, h := range b.d.Names("house") {
		for _, p := range b.d.Names("house", h, "place") {
			all = append(all, h+"/"+p)
		}
	}
	return all
}
