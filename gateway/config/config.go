package config

import (
	"fmt"
	"os"
	"path/filepath"

	"telltale/alarms"
)

// Config is a whole file, read and found good.
type Config struct {
	File      string
	Plan      alarms.Plan
	Sources   []Source
	Broker    Broker // the broker that the watch runs itself, if Broker.Run
	Link      Link
	Store     Store
	Reach     Reach
	Modem     Modem
	Page      Page
	Metrics   Metrics
	Export    Export
	Heartbeat Heartbeat
	Log       Log
	Forms     []Form // of the houses that have one
}

// maxFile is the longest file that is read, bytes.
const maxFile = 4 << 20

// Load reads the file at path. The configuration is nil when Problems has
// errors; with warnings alone it can be used. env looks up an environment
// variable, as os.LookupEnv does.
func Load(path string, env func(string) (string, bool)) (*Config, Problems) {
	return loadAs(path, env, false)
}

func loadAs(path string, env func(string) (string, bool), mayBeBare bool) (*Config, Problems) {
	info, err := os.Stat(path)
	if err == nil && info.Size() > maxFile {
		return nil, Problems{{File: path, Text: fmt.Sprintf("is too long for a configuration: %d bytes, at most %d are read", info.Size(), maxFile)}}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, Problems{{File: path, Text: "cannot be read: " + reason(err)}}
	}
	return parseAs(path, data, env, nil, mayBeBare)
}

// Parse is Load for a file that is in memory already. Files named in it are
// looked for beside name.
func Parse(name string, data []byte, env func(string) (string, bool)) (*Config, Problems) {
	return parseAs(name, data, env, nil, false)
}

// parseAs reads a file that, where it may be bare, may have nothing to watch.
// Its secrets are in fresh, else in files.
func parseAs(name string, data []byte, env func(string) (string, bool), fresh secrets, mayBeBare bool) (*Config, Problems) {
	root, lines, found := parse(data)
	r := &reader{file: name, dir: filepath.Dir(name), env: env, fresh: fresh, lines: lines, found: found, mayBeBare: mayBeBare}
	for i := range r.found {
		r.found[i].File = name
	}
	if root == nil && len(found) > 0 {
		return nil, r.found
	}
	c := r.config(&table{r: r, at: place{line: 0}, keys: root, seen: true})
	problems := r.found.sorted()
	if problems.Err() != nil {
		return nil, problems
	}
	return c, problems
}

// config reads everything below the root, then checks what spans tables.
func (r *reader) config(root *table) *Config {
	c := &Config{File: r.file}
	c.Plan.Words = r.words(root)
	houses := r.houses(root, c.Plan.Words.Zone)
	probes := r.probes(root)
	r.placeProbes(houses, probes)
	r.checkClaims(probes)
	for _, h := range houses {
		r.checkMechanics(h)
		r.checkLoop(h)
		r.checkFeeds(h)
	}
	for _, h := range houses {
		c.Plan.Houses = append(c.Plan.Houses, r.finishHouse(h))
	}
	c.Forms = r.forms(houses)
	for _, p := range probes {
		c.Sources = append(c.Sources, p.sources...)
	}
	c.Plan.Chatter, c.Plan.Reminders = r.chatter(root), r.reminders(root)
	c.Broker, c.Link = r.brokers(root)
	c.Plan.Link = r.linkRule(root)
	c.Store = r.store(root)
	c.Reach = r.reach(root, c.Plan)
	c.Modem = r.modem(root, c.Reach)
	c.Page, c.Metrics = r.page(root)
	c.Page.DegreesGiven = r.degreesGiven
	c.Page.Accounts = r.pageAccounts(root, c.Reach.People)
	c.Export = r.export(root)
	c.Heartbeat = r.heartbeat(root)
	c.Log = r.log(root)
	r.checkPush(c, root)
	r.checkAddresses(c, root)
	root.done()
	return c
}

// finishHouse checks the bands of a house against its probes and crops.
func (r *reader) finishHouse(h *houseSite) alarms.House {
	for _, p := range h.places {
		for _, one := range p.probes {
			p.place.Probes = append(p.place.Probes, one.probe)
		}
		r.finishBands(p)
		r.finishExposures(p)
		h.house.Places = append(h.house.Places, p.place)
	}
	h.finishMechanics()
	h.finishLoop()
	return h.house
}
