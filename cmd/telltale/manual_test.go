package main

import (
	"strings"
	"testing"

	"telltale/gateway/manual"
)

func TestManual(t *testing.T) {
	t.Parallel()
	list := start(t, "manual")
	if code := list.exit(); code != exitStopped {
		t.Errorf("it ends with %d", code)
	}
	for _, topic := range manual.English.Topics() {
		if !strings.Contains(list.stdout(), topic.Name) || !strings.Contains(list.stdout(), topic.Title) {
			t.Errorf("%s is not listed in\n%s", topic.Name, list.stdout())
		}
	}
	one := start(t, "manual", "copies")
	if code := one.exit(); code != exitStopped || !strings.HasPrefix(one.stdout(), "# Keep a copy\n") {
		t.Errorf("it ends with %d and shows\n%s", code, one.stdout())
	}
	found := start(t, "manual", "--find", "what SPAN board missing")
	if code := found.exit(); code != exitStopped || !strings.Contains(found.stdout(), "copies, Move to another board:\n    It puts config") {
		t.Errorf("it ends with %d and finds\n%s", code, found.stdout())
	}
	ends(t, exitUsage, []string{"manual", "cellar"}, `there is no such topic in the manual (got "cellar")`, "start, probes")
	ends(t, exitUsage, []string{"manual", "copies", "--find", "disk"}, `leave out "copies"`)
	ends(t, exitOther, []string{"manual", "--find", "xylophone"}, `nothing in the manual holds all of "xylophone"`)
}

// Every command is in the manual, and the manual names no other.
func TestTheManualHasEveryCommand(t *testing.T) {
	text, err := manual.English.Text("commands")
	ok(t, err)
	for _, c := range newRoot().Commands() {
		if c.Name() != "help" && !c.Hidden && !strings.Contains(text, "`telltale "+c.Name()) {
			t.Errorf("the manual does not name telltale %s", c.Name())
		}
	}
}
