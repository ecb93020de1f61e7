// Package deploy holds what a machine needs to run the watch: the service's
// unit file, an example configuration, a broker's configuration and a scrape
// job. Its tests load each of them and make sure that they fit one another.
package deploy
