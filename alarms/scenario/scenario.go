package scenario

import (
	"strings"
	"time"

	"telltale/alarms"
)

// Scenario is one file, read.
type Scenario struct {
	File  string // as given to Parse, for messages
	Title string
	Story string // lines of plain words
	Plan  alarms.Plan
	Steps []Step
}

// Step is one timed line: what happens, and what is expected to come of it.
type Step struct {
	Line   int // where it stands in the file, from 1; 0 if it comes from elsewhere
	Inputs []alarms.Input
	// Want holds, of each expected transition, Alarm, Move, To, Level,
	// Priority, Due, Noticed and Sentence.
	Want []alarms.Transition

	day   string // that held on its line
	last  int    // last line of the input's text
	wants []int  // lines that hold expectations, for Rewrite
}

// Zones finds a time zone by its name, as time.LoadLocation does; the package
// itself reads no files. A nil Zones knows UTC alone.
type Zones func(name string) (*time.Location, error)

// Inputs lists every input of the file in order.
func (s *Scenario) Inputs() []alarms.Input {
	var all []alarms.Input
	for _, step := range s.Steps {
		all = append(all, step.Inputs...)
	}
	return all
}

// New makes a scenario of a plan and inputs, to be printed: a recorded
// incident, or a run that failed a test.
func New(title, story string, plan alarms.Plan, inputs []alarms.Input) *Scenario {
	s := &Scenario{Title: title, Story: story, Plan: plan}
	for _, in := range inputs {
		s.Steps = append(s.Steps, Step{Inputs: []alarms.Input{in}})
	}
	return s
}

// Parse reads a scenario. All problems come in one error, each a line that
// begins with file:line. The file name is used for nothing else.
func Parse(file string, text []byte, zones Zones) (*Scenario, error) {
	p := &parser{s: &Scenario{File: file}, problems: problems{file: file}, zones: zones}
	body, from := p.header(string(text))
	ls := lines(body)
	for i := range ls {
		ls[i].first += from
		ls[i].last += from
	}
	p.script(p.plan(ls))
	if err := p.err(); err != nil {
		return nil, err
	}
	return p.s, nil
}

// parser holds what must be remembered from line to line.
type parser struct {
	problems
	s     *Scenario
	zones Zones
	times clockwork
	count int // inputs so far

	house *alarms.House
	place *alarms.Place
}

// header reads title and story and returns what comes after the line "plan",
// with the number of that line.
func (p *parser) header(text string) (body string, from int) {
	all := strings.Split(text, "\n")
	var story []string
	for i, raw := range all {
		l := strings.TrimSpace(raw)
		switch {
		case strings.TrimRight(raw, " \t\r") == "plan":
			p.s.Story = strings.Trim(strings.Join(story, "\n"), "\n")
			return strings.Join(all[i+1:], "\n"), i + 1
		case strings.HasPrefix(l, "#"):
		case p.s.Title == "":
			p.s.Title = l
		default:
			story = append(story, l)
		}
	}
	p.add(len(all), `want a line "plan" after title and story, got the end of the file`)
	return "", len(all)
}

// zone finds a time zone by name.
func (p *parser) zone(c *cursor) *time.Location {
	name := c.name("a time zone")
	if c.err != nil || name == "UTC" {
		return time.UTC
	}
	if p.zones == nil {
		c.fail("want the zone UTC, as no other is known here, got %q", name)
		return time.UTC
	}
	z, err := p.zones(name)
	if err != nil || z == nil || name == "Local" {
		c.fail("want a zone of the time zone database, got %q", name)
		return time.UTC
	}
	return z
}
