package service

import (
	"strings"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// Untold says of what nobody hears, not even at high priority. The zero value:
// somebody hears of everything.
type Untold struct {
	All       bool     // of anything at all
	Of        []string // else of these: names of houses, and of the watch itself
	Rehearsed bool     // because every channel that would tell only rehearses; else nobody is named
}

// WatchItself stands among the names for the alarms of the watch itself.
const WatchItself tongue.Text = "the watch itself"

// Words say it, "" where there is nothing to say.
func (u Untold) Words(in tongue.Tongue) (what, why string) {
	switch {
	case u.All:
		what = in.Say("Nobody is told of alarms.")
	case len(u.Of) > 0:
		what = in.Say("Nobody is told of alarms of %s.", strings.Join(walk.Each(u.Of, func(name string) string {
			if name == string(WatchItself) {
				return in.Say(WatchItself)
			}
			return name
		}), in.Say(" and of ")))
	default:
		return "", ""
	}
	if u.Rehearsed {
		return what, in.Say("They show on this page alone: every channel that would tell only rehearses, and sends nothing, as long as it has rehearse = true in the configuration.")
	}
	return what, in.Say("They show on this page alone, until the configuration names somebody to tell.")
}
