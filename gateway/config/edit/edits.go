package edit

import (
	"strings"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/decode"
)

// The edits that a Draft knows. An edit adds what is not there and changes
// what is; a field that is empty is left as it stands in the file. Names in
// the fields ID are those of the file, see the New...ID methods.
type (
	// HouseEdit is one house.
	HouseEdit struct {
		ID, Name            string
		Latitude, Longitude *float64
		DayFrom, DayTo      string // such as "06:30"
	}

	// PlaceEdit is one place and its limits, in the file's units.
	PlaceEdit struct {
		House, ID, Name, Crop string
		Limits                []LimitEdit
	}

	// LimitEdit is the limits of one quantity all day and all year.
	LimitEdit struct {
		Quantity                    alarms.Quantity
		LowLow, Low, High, HighHigh *float64
		OutsideCrop                 string // why they lie outside the crop's band
	}

	// ProbeEdit is one probe with what it measures. All of Reads come from
	// Topic in Form.
	ProbeEdit struct {
		ID, Name, House, Place, Circuit string
		Topic, Form                     string
		TimeFrom, TimeUnit, Every       string
		Reads                           []decode.Read
	}

	// MailEdit is a channel of kind mail. Password is as somebody typed it. It
	// never goes into the file, only the name of a new one that holds it: who
	// could name a file could have its first line sent to a server of their own.
	MailEdit struct{ Name, Server, Security, From, User, Password string }

	// PersonEdit is somebody who can be told.
	PersonEdit struct {
		ID, Name, Mail string
		Channels       []string
	}

	// AccountEdit is somebody who may act on the page. Hash is that of the password;
	// it goes into a new file, as that of MailEdit does.
	AccountEdit struct{ ID, Name, Hash string }

	// ReachEdit opens the page to other machines, over TLS. Certificate and Key are
	// PEM, and go into new files.
	ReachEdit struct{ Address, Certificate, Key string }

	// BrokerAccountEdit is a user of the watch's own broker. Password goes into a new
	// file, as that of MailEdit does.
	BrokerAccountEdit struct {
		User, Password string
		MaySend        []string // topic filters
	}

	// WordsEdit says how the file and messages are written.
	WordsEdit struct{ Temperature, Zone string }
)

// SetWords sets the unit of temperatures and the zone of clock times.
func (d *Draft) SetWords(e WordsEdit) {
	var p pairs
	p.text("temperature", e.Temperature)
	p.text("zone", e.Zone)
	d.put("words", p, "")
}

// SetPageName sets the name of the garden.
func (d *Draft) SetPageName(name string) {
	var p pairs
	p.text("name", name)
	d.put("page", p, "")
}

// SetHouse adds or changes a house.
func (d *Draft) SetHouse(e HouseEdit) {
	var p pairs
	p.text("name", e.Name)
	p.number("latitude", e.Latitude)
	p.number("longitude", e.Longitude)
	p.text("day-from", e.DayFrom)
	p.text("day-to", e.DayTo)
	d.put(inner("house", e.ID), p, "")
}

// SetPlace adds or changes a place, its crop and its limits.
func (d *Draft) SetPlace(e PlaceEdit) {
	at := inner("house", e.House, "place", e.ID)
	var p pairs
	p.text("name", e.Name)
	p.text("crop", e.Crop)
	d.put(at, p, "")
	for _, l := range e.Limits {
		var p pairs
		p.number("low-low", l.LowLow)
		p.number("low", l.Low)
		p.number("high", l.High)
		p.number("high-high", l.HighHigh)
		p.text("outside-crop", l.OutsideCrop)
		if len(p) > 0 {
			d.put(inner(at, string(l.Quantity)), p, "")
		}
	}
}

// SetProbe adds or changes a probe. Of a probe that is there a quantity that
// is not in Reads stays.
func (d *Draft) SetProbe(e ProbeEdit) {
	at := inner("probe", e.ID)
	var p pairs
	p.text("name", e.Name)
	if e.House != "" && e.Place != "" {
		p.text("place", e.House+"/"+e.Place)
	}
	p.text("circuit", e.Circuit)
	p.text("every", e.Every)
	p.text("topic", e.Topic)
	fresh := !d.sheet.there(at)
	if e.Form != "number" || !fresh { // it is what a probe without a form has
		p.text("form", e.Form)
	}
	p.text("time-from", e.TimeFrom)
	p.text("time-unit", e.TimeUnit)
	for _, r := range e.Reads {
		if fresh {
			p.raw(string(r.Quantity), readPairs(r).inline())
		}
	}
	d.put(at, p, "")
	for _, r := range e.Reads {
		if !fresh {
			d.setRead(at, r)
		}
	}
}

func (d *Draft) setRead(at string, r decode.Read) {
	table := inner(at, string(r.Quantity))
	if !d.sheet.there(table) {
		d.sheet.set(at, string(r.Quantity), readPairs(r).inline())
		return
	}
	d.put(table, readPairs(r), "")
}

func readPairs(r decode.Read) pairs {
	var p pairs
	p.text("from", r.At)
	p.text("measurement", r.Measurement)
	if len(r.Tags) > 0 {
		var tags pairs
		for _, k := range sortedTags(r.Tags) {
			tags.raw(k, Quoted(r.Tags[k]))
		}
		p.raw("tags", tags.inline())
	}
	p.text("unit", r.Unit)
	if r.Factor != 0 && r.Factor != 1 {
		p.number("factor", &r.Factor)
	}
	if r.Inverted {
		p.raw("inverted", "true")
	}
	if r.Optional {
		p.raw("optional", "true")
	}
	return p
}

// SetMail adds or changes a mail server to tell people through.
func (d *Draft) SetMail(e MailEdit) {
	var p pairs
	p.text("kind", "mail")
	p.text("server", e.Server)
	p.text("security", e.Security)
	p.text("user", e.User)
	if e.Password != "" {
		p.text("password-file", d.keepSecret(e.Name, e.Password))
	}
	p.text("from", e.From)
	d.put(inner("channel", e.Name), p, "")
}

// SetSecret puts a secret of a table into a new file, which the table then names in place
// of what it had.
func (d *Draft) SetSecret(path []string, key, text string) {
	for _, other := range []string{key, key + "-env"} {
		d.Set(path, other, nil)
	}
	d.Set(path, key+"-file", d.keepSecret(path[len(path)-1]+"-"+key, text))
}

// SetAccount adds somebody who may act on the page.
func (d *Draft) SetAccount(e AccountEdit) {
	var p pairs
	p.text("name", e.Name)
	p.text("may", string(config.MayAct))
	p.text("password-file", d.keepSecret("account-"+e.ID, e.Hash))
	d.put(inner("account", e.ID), p, "# The file holds a hash; \"telltale password\" makes another one.\n")
}

// SetReach opens the page to other machines.
func (d *Draft) SetReach(e ReachEdit) {
	var p pairs
	p.text("address", e.Address)
	p.text("certificate-file", d.keepSecret("page-certificate", e.Certificate))
	p.text("key-file", d.keepSecret("page-key", e.Key))
	d.put("page", p, "")
}

// SetBrokerAccount adds a user of the watch's own broker, and returns the name of
// the file that has the password.
func (d *Draft) SetBrokerAccount(e BrokerAccountEdit) (file string) {
	file = d.keepSecret("probe-"+e.User, e.Password)
	var p pairs
	p.text("password-file", file)
	p.raw("may-send", quotedList(e.MaySend))
	d.put(inner("own-broker", "account", e.User), p, "")
	return file
}

// SetBrokerAddress says where the watch's own broker listens.
func (d *Draft) SetBrokerAddress(address string) {
	var p pairs
	p.text("address", address)
	d.put("own-broker", p, "")
}

// SetPerson adds or changes a person.
func (d *Draft) SetPerson(e PersonEdit) {
	var p pairs
	p.text("name", e.Name)
	p.text("mail", e.Mail)
	if len(e.Channels) > 0 {
		p.raw("channels", quotedList(e.Channels))
	}
	d.put(inner("person", e.ID), p, "")
}

// Tell adds a rule by which people are told of everything, and takes out the
// statement that nobody is.
func (d *Draft) Tell(people ...string) {
	d.sheet.removeTable(config.NobodyTold)
	d.sheet.addElement("tell", "people = "+quotedList(people)+"\n", "")
}

// TellNobody states that nobody is told, and why. Without such words a file
// that tells nobody is refused.
func (d *Draft) TellNobody(because string) {
	d.put(config.NobodyTold, pairs{{"because", Quoted(because)}},
		"# Alarms show on the page alone. To be told of them, name a channel, a person\n# and [[tell]] here, and take this table out.\n")
}

// put sets keys of a table, which it adds where it is not there.
func (d *Draft) put(table string, p pairs, comment string) {
	if !d.sheet.there(table) || len(p) > 0 && d.mustOpen(table) {
		d.sheet.addTable(table, p.lines(), comment)
		return
	}
	for _, one := range p {
		d.sheet.set(table, one.key, one.value)
	}
}

// mustOpen reports whether a table has neither a header nor a value of its
// own yet, only tables below it.
func (d *Draft) mustOpen(table string) bool {
	_, inline := d.sheet.find(table)
	return !inline && d.sheet.findHead(table) < 0
}

const pathSep = "\x00" // between the parts of a path within the sheet

// inner makes such a path, of which the first part may be one already, or empty for
// the root.
func inner(parts ...string) string { return strings.TrimPrefix(strings.Join(parts, pathSep), pathSep) }
