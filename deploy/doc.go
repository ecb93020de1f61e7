// Package deploy holds what a machine needs to run the watch: the service's
// unit file, an example configuration, a broker's configuration and a scrape
// job, and the licences of what is linked into the program. Its tests load each
// of them and make sure that they fit one another.
package deploy

import _ "embed"

// Notices are the licence texts of everything linked into the program for any
// of the boards, by name and version. A test makes them and compares.
//
//go:embed notices.txt
var Notices string
