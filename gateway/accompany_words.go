package gateway

import (
	"cmp"
	"time"

	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/link"
)

// What is said of the two watches, in messages and on the companion's pages.
const (
	unheardSince tongue.Text = "nothing has been heard of it since %s"
	unheardLost  tongue.Text = "nothing has been heard of it since %s, and by its broker it is gone without a word"
	unheardEnded tongue.Text = "nothing has been heard of it since %s, and by its broker it was stopped"
	whyUnheard   tongue.Text = "%s (%s)"
	nobodySetUp  tongue.Text = "nobody is set up to be told"
	firstDeaf    tongue.Text = "it lives, but readings that come here do not come there"
	firstMute    tongue.Text = "it says that it cannot reach people: %s"

	insteadGone  tongue.Text = "The companion tells you this, because the first watch has not been heard since %s."
	insteadNever tongue.Text = "The companion tells you this, because it has not heard the first watch since it was started."
	insteadDeaf  tongue.Text = "The companion tells you this, because no readings reach the first watch."
	insteadMute  tongue.Text = "The companion tells you this, because the first watch cannot reach people."
	insteadQuiet tongue.Text = "The companion tells you this, because the first watch has not confirmed that it told anybody."
	insteadEnd   tongue.Text = "The companion had told you that it began."
	ofCompanion  tongue.Text = "This comes from the companion."
	olderPlan    tongue.Text = "It judges by an older plan than the first watch."

	becauseConfirmed tongue.Text = "not needed: the first watch has it in hand"
	becauseTaken     tongue.Text = "not needed: somebody has it in hand"
	becauseMoot      tongue.Text = "not needed: nobody was told here that it began"

	pageBare    tongue.Text = "This is the companion of the watch at %s. It has no copy of its plan yet and watches nothing."
	pageNever   tongue.Text = "This is the companion of the watch at %s, which it has not heard since it was started. The companion tells."
	pageGone    tongue.Text = "This is the companion of the watch at %s, which was last heard at %s. The companion tells."
	pageDeaf    tongue.Text = "This is the companion of the watch at %s, which no readings reach. The companion tells what that one does not."
	pageMute    tongue.Text = "This is the companion of the watch at %s, which cannot reach people. The companion tells."
	pageWell    tongue.Text = "This is the companion of the watch at %s, last heard at %s. That one tells; this one is quiet."
	pageOld     tongue.Text = "The plan here is older than that of the first watch."
	pageOldWhy  tongue.Text = "The plan here is older than that of the first watch, which could not be taken: %s"
	pageUnasked tongue.Text = "What waits here for the first watch: %d."
)

// unheard keeps since when nothing has been heard of the other watch, by the wall clock, and
// why; broker is what its broker keeps of it.
func unheard(since time.Time, broker link.State, fault string) string {
	said := map[link.State]tongue.Text{link.Lost: unheardLost, link.Stopped: unheardEnded}[broker]
	why := tongue.Keep(cmp.Or(said, unheardSince), since)
	if fault != "" {
		why = tongue.Keep(whyUnheard, why, fault)
	}
	return why
}

// instead says why the companion tells something that the first should.
func (a *accompanying) instead(m say.Locale, ends bool) string {
	s := a.state(a.p.clock.Core())
	said := m.Tongue.Say(insteadQuiet)
	switch {
	case ends:
		said = m.Tongue.Say(insteadEnd)
	case s.heard.IsZero():
		said = m.Tongue.Say(insteadNever)
	case s.gone:
		said = m.Tongue.Say(insteadGone, m.Clock(s.heard, a.p.clock.Now()))
	case s.deaf:
		said = m.Tongue.Say(insteadDeaf)
	case s.untold != "":
		said = m.Tongue.Say(insteadMute)
	}
	if s.oldPlan {
		said += " " + m.Tongue.Say(olderPlan)
	}
	return said
}

// onPage says on every page which watch this one accompanies, how that is and who tells.
func (a *accompanying) onPage(m say.Locale) string {
	s, of := a.state(a.p.clock.Core()), a.p.cfg.Companion.First
	var said string
	switch {
	case !a.p.cfg.Watches():
		return m.Tongue.Say(pageBare, of) + withFault(s.fault+s.old)
	case s.heard.IsZero():
		said = m.Tongue.Say(pageNever, of)
	case s.gone:
		said = m.Tongue.Say(pageGone, of, m.Clock(s.heard, a.p.clock.Now()))
	case s.deaf:
		said = m.Tongue.Say(pageDeaf, of)
	case s.untold != "":
		said = m.Tongue.Say(pageMute, of)
	default:
		said = m.Tongue.Say(pageWell, of, m.Clock(s.heard, a.p.clock.Now()))
	}
	switch {
	case s.old != "":
		said += " " + m.Tongue.Say(pageOldWhy, s.old)
	case s.oldPlan:
		said += " " + m.Tongue.Say(pageOld)
	}
	a.mu.Lock()
	n := len(a.kept.Acts)
	a.mu.Unlock()
	if n > 0 {
		said += " " + m.Tongue.Say(pageUnasked, n)
	}
	return said
}
