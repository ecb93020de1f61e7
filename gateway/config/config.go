package config

import (
	"os"
	"path/filepath"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/decode"
	"telltale/gateway/page/service"
)

// Config is a whole file, read and found good.
type Config struct {
	File      string
	Plan      alarms.Plan
	Sources   []decode.Source
	Broker    Broker // the broker that the watch runs itself, if Broker.Run
	Link      Link
	Store     Store
	Copies    Copies
	Reach     Reach
	Modem     Modem
	Page      Page
	Metrics   Metrics
	Export    Export
	Heartbeat Heartbeat
	Log       Log
	Forms     []service.Form // of the houses that have one
	Named     []Named
	// FromEnv are the environment variables that hold secrets.
	FromEnv []string

	Companion Companion // which watch this one accompanies, if Companion.First
	Shared    Shared    // for one that accompanies this

	Plain bool // the file has no table of page or broker
}

// MaxFile is the longest file that is read, bytes.
const MaxFile = 4 << 20

// Load reads the file at path. The configuration is nil when Problems has
// errors; with warnings alone it can be used. env looks up an environment
// variable, as os.LookupEnv does.
func Load(path string, env func(string) (string, bool)) (*Config, Problems) {
	return loadAs(path, env, false)
}

func loadAs(path string, env func(string) (string, bool), mayBeBare bool) (*Config, Problems) {
	info, err := os.Stat(path)
	if err == nil && info.Size() > MaxFile {
		return nil, Problems{{File: path, Says: tongue.Put("is too long for a configuration: %d bytes, at most %d are read", info.Size(), MaxFile)}}
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, Problems{{File: path, Says: tongue.Put("cannot be read: %s", Reason(err))}}
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
func parseAs(name string, data []byte, env func(string) (string, bool), fresh map[string]string, mayBeBare bool) (*Config, Problems) {
	root, lines, found := parse(data)
	r := &reader{file: name, dir: filepath.Dir(name), env: env, fresh: fresh, lines: lines, found: found, mayBeBare: mayBeBare}
	r.found.in(name)
	if root == nil && len(found) > 0 {
		return nil, r.found
	}
	r.accompany(root)
	c := r.config(&table{r: r, at: place{line: 0}, keys: root, seen: true})
	problems := r.found.sorted()
	if problems.Err() != nil {
		return nil, problems
	}
	return c, problems
}

// config reads everything below the root, then checks what spans tables.
func (r *reader) config(root *table) *Config {
	r.moved = map[string]moved{}
	c := &Config{File: r.file}
	c.Plan.Words = readWords(root)
	houses := readHouses(root, c.Plan.Words.Zone)
	probes := readProbes(root)
	placeProbes(houses, probes)
	checkClaims(probes)
	c.Plan.Houses = walk.Each(houses, (*houseSite).finish)
	c.Forms = forms(houses)
	for _, p := range probes {
		c.Sources = append(c.Sources, p.sources...)
	}
	c.Plan.Chatter, c.Plan.Reminders = readChatter(root), readReminders(root)
	c.Broker, c.Link = readBrokers(root)
	c.Plan.Link = readLinkRule(root)
	r.checkPlan(c.Plan)
	r.checkNear(c.Plan.Filled())
	for _, h := range houses {
		h.checkMechanics()
		h.checkLoop()
	}
	c.Store = readStore(root)
	c.Copies = readCopies(root, c.Store)
	c.Reach = readReach(root, c.Plan)
	c.Modem = readModem(root, c.Reach)
	c.Page, c.Metrics = readPage(root)
	c.Page.DegreesGiven = r.degreesGiven
	c.Page.Accounts = readPageAccounts(root, c.Reach.People)
	c.Export = readExport(root)
	c.Heartbeat = readHeartbeat(root)
	c.Log = readLog(root)
	checkPush(c, root)
	checkLetters(c, root)
	c.Companion = readCompanion(root)
	c.apart(root)
	c.Shared = toShare(root.keys)
	checkAddresses(c, root)
	root.done()
	c.Plain = !root.has("page") && !root.has("own-broker") && !root.has("broker") && !root.has("companion")
	c.Named, c.FromEnv = r.named, r.fromEnv
	return c
}

// finish merges what the tables of a house say, and hands it over.
func (h *houseSite) finish() alarms.House {
	for _, p := range h.places {
		for _, one := range p.probes {
			p.place.Probes = append(p.place.Probes, one.probe)
		}
	}
	for _, p := range h.places {
		p.finishBands()
		p.finishExposures()
		h.house.Places = append(h.house.Places, p.place)
	}
	h.finishMechanics()
	h.finishLoop()
	return h.house
}
