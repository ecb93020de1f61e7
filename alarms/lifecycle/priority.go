package lifecycle

import "telltale/alarms"

// Always returns a function, made once for each priority, that returns p but for
// the level Last.
func Always(p alarms.Priority) func(alarms.Level) alarms.Priority {
	return alwaysOf[min(int(p), len(alwaysOf)-1)]
}

var alwaysOf = [...]func(alarms.Level) alarms.Priority{
	alarms.NoPriority: unlessLast(alarms.NoPriority), alarms.Low: unlessLast(alarms.Low), alarms.Medium: unlessLast(alarms.Medium), alarms.High: unlessLast(alarms.High),
}

func unlessLast(p alarms.Priority) func(alarms.Level) alarms.Priority {
	return func(l alarms.Level) alarms.Priority {
		if l == alarms.Last {
			return alarms.High
		}
		return p
	}
}

func ByLevel(outer, inner alarms.Priority) func(alarms.Level) alarms.Priority {
	return func(l alarms.Level) alarms.Priority {
		if l == alarms.Inner {
			return inner
		}
		return outer
	}
}
