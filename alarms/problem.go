package alarms

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// Problem is one thing that makes a plan impossible to judge by.
type Problem struct {
	At   Path        // what of the plan is wrong
	Text tongue.Text // what is wrong, what was got and what would be right
	Args []any       // for Text: text in the file, int, float64, time.Duration, Amount, Path, Choice, or what is said
	// Rests are further parts of the plan on which the problem rests: where one of
	// them is not what was meant it says nothing.
	Rests []Path
	// Or says the same of another part of the plan, where that is the one to change.
	Or *Problem
}

// Path names a part of a plan from the top by the words of a plan and the IDs in it:
// "house", "long-house", "control", "dial", "stage", "hot", "set-point". Probes stand at
// the top, "#0" is the first of a list.
type Path []string

// to is a part of what p names.
func (p Path) to(parts ...string) Path { return slices.Concat(p, parts) }

// nth is an element of a list of what p names.
func (p Path) nth(list string, i int) Path { return p.to(list, "#"+strconv.Itoa(i)) }

func (p Path) String() string { return strings.Join(p, ".") }

// Amount is a value of a quantity, in its unit, or with Step a difference of two.
type Amount struct {
	Quantity Quantity
	Value    float64
	Step     bool
}

func (a Amount) String() string {
	unit := a.Quantity.Facts().Unit
	if a.Step && a.Quantity.Absolute() {
		unit = "K"
	}
	if unit != "" {
		unit = " " + unit
	}
	return fmt.Sprintf("%g%s", a.Value, unit)
}

// Choice is a name that is none of those that there are.
type Choice struct {
	Got   string
	Known []string
}

func (c Choice) String() string {
	if len(c.Known) == 0 {
		return "; it has none"
	}
	return "; it has " + strings.Join(c.Known, ", ")
}

// choice makes a Choice of names of any type.
func choice[G, K ~string](got G, known []K) Choice {
	return Choice{Got: string(got), Known: walk.Each(known, func(k K) string { return string(k) })}
}

// Say is the text of p with each argument as write gives it.
func (p Problem) Say(write func(any) any) tongue.Saying {
	return tongue.Put(p.Text, walk.Each(p.Args, write)...)
}

// Error is where p is and what it says.
func (p Problem) Error() string {
	return p.At.String() + ": " + p.Say(func(a any) any {
		if d, ok := a.(time.Duration); ok {
			return d.String()
		}
		return a
	}).Error()
}

// listing joins names as a person does: "a", "a and b", "a, b and c".
func listing[K ~string](names []K) tongue.Saying {
	return joined(walk.Each(names, func(k K) string { return string(k) }), "%s and %s|a list")
}

// Either writes words as a person lists what may be chosen.
func Either[K ~string](words []K) tongue.Saying {
	return joined(walk.Each(words, func(w K) string { return strconv.Quote(string(w)) }), "%s or %s|of what may be chosen")
}

func joined(words []string, last tongue.Text) tongue.Saying {
	if n := len(words); n > 1 {
		return tongue.Put(last, strings.Join(words[:n-1], ", "), words[n-1])
	}
	return tongue.Bare(strings.Join(words, ""))
}

// ofDay writes a time after midnight as the plan gives it.
func ofDay(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}
