package edit

import (
	"os"
	"path/filepath"
	"strings"

	"telltale/gateway/config"
)

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

# The page for other machines. On a board without a screen "telltale watch" writes
# it, with the first account: it tells a code for that while none of this is here.
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
	if dir, ok := env(config.StateDirectory); !ok || dir == "" {
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
