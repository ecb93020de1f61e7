package config

import (
	"os"
	"path/filepath"
	"strings"
)

// nobodyTold is the table by which a file says that it is meant that nobody
// is told of alarms.
const nobodyTold = "nobody-told"

// LoadToSetUp is Load for a watch that somebody is about to set up in the
// browser: a file with neither a house nor a probe is good too, and then
// nothing is watched.
func LoadToSetUp(path string, env func(string) (string, bool)) (*Config, Problems) {
	return loadAs(path, env, true)
}

// ParseToSetUp is LoadToSetUp for a file that is in memory.
func ParseToSetUp(name string, data []byte, env func(string) (string, bool)) (*Config, Problems) {
	return parseAs(name, data, env, nil, true)
}

// Watches reports whether anything is watched at all.
func (c *Config) Watches() bool { return len(c.Plan.Houses) > 0 }

// bare reports whether the file may have, and has, neither house nor probe.
func (r *reader) bare(root *table) bool {
	return r.mayBeBare && !root.has("house") && !root.has("probe")
}

// nobody reads the statement that nobody is told.
func (r *reader) nobody(root *table) (because string) {
	t := root.table(nobodyTold)
	defer t.done()
	if t.seen {
		because = need(t, t.text("because"), "say why nobody is told, such as because = \"only tried out so far\"").V
	}
	return because
}

// firstFile is what a file that was not there begins with.
const firstFile = `# The configuration of Telltale, begun by "telltale watch". Open the page to set
# it up in the browser, or write it by hand: both may be mixed, and what you
# write here stays.
#
# PLEASE READ THIS FIRST
# - Telltale only watches. It switches nothing. The mechanical thermostat stays
#   in charge; never take it out because of Telltale.
# - It is no fire alarm and no alarm for the safety of people.
# - Anything on mains voltage is work for a licensed electrician under your
#   local code.
# - Test it regularly: warm a probe in your hand, pull a probe's plug, send a
#   test message from the page.
#
# Check this file after every change by hand: telltale check FILE

# A broker that is there already. Without it Telltale runs one of its own at
# 127.0.0.1:1883.
# [broker]
# servers = ["mqtt://127.0.0.1:1883"]

# For a board without a screen: other machines may open the page, with the
# password that the file beside this one holds.
# [page]
# address = "0.0.0.0:8470"
# password-file = "secrets/page"
`

const firstStore = `
# Readings, alarms and the log are kept in this folder beside this file.
[store]
directory = "%s"
`

// Begin writes a first file with the cautions and nothing else where there is
// none. made is false where there is one.
func Begin(path string, env func(string) (string, bool)) (made bool, err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if os.IsExist(err) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	text := firstFile
	if dir, ok := env(stateDirectory); !ok || dir == "" {
		base := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
		text += strings.Replace(firstStore, "\"%s\"", Quoted(base+"-store"), 1)
	}
	_, err = f.WriteString(text)
	if errSync := f.Sync(); err == nil {
		err = errSync
	}
	if errClose := f.Close(); err == nil {
		err = errClose
	}
	return true, err
}
