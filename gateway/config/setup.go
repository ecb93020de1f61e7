package config

import "telltale/gateway/loopback"

// NobodyTold is the table by which a file says that it is meant that nobody
// is told of alarms.
const NobodyTold = "nobody-told"

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

// ParseEdited is ParseToSetUp for a file that waits to be saved with new secrets, by
// the path of the file that is to hold each.
func ParseEdited(name string, data []byte, env func(string) (string, bool), fresh map[string]string) (*Config, Problems) {
	return parseAs(name, data, env, fresh, true)
}

// Watches reports whether anything is watched at all.
func (c *Config) Watches() bool { return len(c.Plan.Houses) > 0 }

// Unclaimed reports whether nothing is watched yet, nobody has a way in, and only
// this machine reaches what there is.
func (c *Config) Unclaimed() bool {
	p, b := c.Page, c.Broker
	return !c.Watches() && len(p.Accounts) == 0 && !p.Password.Given() && !p.PasswordHash.Given() && !p.TLS() && !p.ProxyTLS && p.URL == "" && len(p.Hosts) == 0 &&
		loopback.Address(p.Address) && b.Run && loopback.Address(b.Address) && len(b.Accounts) == 0
}

// Untouched reports whether, beyond that, the file says nothing of page and broker.
func (c *Config) Untouched() bool { return c.Plain && c.Unclaimed() }

// bare reports whether the file may have, and has, neither house nor probe.
func (t *table) bare() bool {
	return t.r.mayBeBare && !t.has("house") && !t.has("probe")
}

// readNobody reads the statement that nobody is told.
func readNobody(root *table) (because string) {
	t := root.table(NobodyTold)
	defer t.done()
	if t.seen {
		because = need(t, t.text("because"), "say why nobody is told, such as because = \"only tried out so far\"").V
	}
	return because
}
