package gateway

import (
	"cmp"
	"fmt"
	"slices"
	"sync"

	"telltale/alarms"
	"telltale/alarms/crop"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/config/forms"
	"telltale/gateway/decode"
	"telltale/gateway/page"
)

// tryingOut is why nobody is told where nobody was named on the page.
const tryingOut = "nobody was named when this was set up"

// open reads the file for edits.
func (f *first) open() (*edit.Draft, error) {
	d, problems := edit.OpenDraft(f.set.File, f.set.Env)
	if d == nil {
		return nil, problems.Err()
	}
	return d, nil
}

// current is what the file says now; nil where it is not good.
func (f *first) current(d *edit.Draft) *config.Config {
	c, _ := config.ParseToSetUp(f.set.File, []byte(d.Text()), f.set.Env)
	return c
}

// Garden implements page.First.
func (f *first) Garden() (page.Garden, error) {
	d, err := f.open()
	if err != nil {
		return page.Garden{}, err
	}
	c := f.current(d)
	if c == nil {
		_, problems := config.ParseToSetUp(f.set.File, []byte(d.Text()), f.set.Env)
		return page.Garden{}, problems.Err()
	}
	g := page.Garden{File: f.set.File, Name: c.Page.Name, Fahrenheit: c.Plan.Words.Fahrenheit, Watches: c.Watches(), Told: len(c.Reach.Tell) > 0,
		Gives: givesAccounts(c), Without: c.Broker.Run && len(c.Broker.Accounts) == 0 && len(c.Sources) > 0, Mark: d.Mark()}
	for _, h := range c.Plan.Houses {
		gh := page.GardenHouse{ID: string(h.ID), Name: h.Name, KnowsDay: h.Day.Fixed || h.Latitude != 0 || h.Longitude != 0}
		for _, p := range h.Places {
			gh.Places = append(gh.Places, page.GardenPlace{ID: string(p.ID), Name: p.Name, Crop: d.Crop(string(h.ID), string(p.ID))})
		}
		g.Houses = append(g.Houses, gh)
	}
	return g, nil
}

// Draft implements page.First.
func (f *first) Draft(w page.Wish) (page.Draft, error) {
	d, probe, err := f.wished(w)
	if err != nil {
		return page.Draft{}, err
	}
	out := page.Draft{Mark: d.Mark(), Probe: alarms.ProbeID(probe), Lines: forms.Lines(d)}
	c, problems := d.Config()
	if c != nil {
		out.Place = placeOf(&c.Plan, alarms.ProbeID(probe))
	}
	out.Problems, out.Warnings = sentences(problems.Errors()), sentences(problems.Warnings())
	table, err := decode.New([]decode.Source{sourceOf(w, probe)})
	if err != nil {
		return out, nil // among the problems it is already
	}
	out.Gives = f.gives(table, w)
	return out, nil
}

// gives reads the newest payload of the topic as the wish says.
func (f *first) gives(t *decode.Table, w page.Wish) []page.Given {
	var out []page.Given
	got := f.samplesOf(w.Topic)
	if len(got) == 0 {
		return nil
	}
	t.Decode(w.Topic, got[0].Payload, got[0].At, func(v decode.Value) {
		g := page.Given{Quantity: v.Quantity, Value: v.Value}
		for _, r := range w.Reads {
			if r.Quantity == v.Quantity {
				g.From = r.At
			}
		}
		out = append(out, g)
	})
	return out
}

// wished makes the edits of a wish in a draft of the file, and returns the
// name of its probe.
func (f *first) wished(w page.Wish) (*edit.Draft, string, error) {
	d, err := f.open()
	if err != nil {
		return nil, "", err
	}
	c := f.current(d)
	if c == nil {
		return nil, "", tongue.Put(fileNotGood)
	}
	if w.GardenName != "" {
		d.SetPageName(w.GardenName)
	}
	if words := (edit.WordsEdit{Temperature: w.Degrees, Zone: w.Zone}); words != (edit.WordsEdit{}) {
		d.SetWords(words)
	}
	house, place := editPlace(d, w, c)
	probe := editProbe(d, w, house, place)
	editTold(d, w, c)
	return d, probe, nil
}

func editPlace(d *edit.Draft, w page.Wish, c *config.Config) (house, place string) {
	house, place = w.House, w.Place
	if house == "" {
		house, place = d.NewHouseID(w.HouseName), ""
		d.SetHouse(edit.HouseEdit{ID: house, Name: w.HouseName, Latitude: w.Latitude, Longitude: w.Longitude, DayFrom: w.DayFrom, DayTo: w.DayTo})
	}
	e := edit.PlaceEdit{House: house, ID: place, Crop: w.Crop}
	if place == "" {
		e.Name = w.PlaceName
		e.ID = outside
		if !w.Outside || hasOutside(c, house) {
			e.ID = d.NewPlaceID(house, cmp.Or(w.PlaceName, outside))
		}
	}
	for _, l := range w.Limits {
		e.Limits = append(e.Limits, edit.LimitEdit{Quantity: l.Quantity, LowLow: l.LowLow, Low: l.Low, High: l.High, HighHigh: l.HighHigh, OutsideCrop: w.OutsideCrop})
	}
	d.SetPlace(e)
	return house, e.ID
}

// outside is the name of the place by which the watch knows the weather.
const outside = "outside"

func hasOutside(c *config.Config, house string) bool {
	return slices.ContainsFunc(c.Plan.Houses, func(h alarms.House) bool {
		return string(h.ID) == house && slices.ContainsFunc(h.Places, func(p alarms.Place) bool { return p.ID == outside })
	})
}

func editProbe(d *edit.Draft, w page.Wish, house, place string) string {
	e := edit.ProbeEdit{ID: d.NewProbeID(w.Probe), Name: w.Probe, House: house, Place: place,
		Topic: w.Topic, Form: w.Form, TimeFrom: w.TimeFrom, TimeUnit: w.TimeUnit, Every: w.Every, Reads: w.Reads}
	d.SetProbe(e)
	return e.ID
}

// editTold names who is told, or states that nobody is.
func editTold(d *edit.Draft, w page.Wish, c *config.Config) {
	switch m := w.Mail; {
	case m != nil:
		channel, person := d.NewChannel("mail"), d.NewPersonID(m.Person)
		d.SetMail(edit.MailEdit{Name: channel, Server: m.Server, Security: m.Security, From: m.From, User: m.User, Password: m.Password})
		d.SetPerson(edit.PersonEdit{ID: person, Name: m.Person, Mail: m.Address, Channels: []string{channel}})
		d.Tell(person)
	case len(c.Reach.Tell) == 0 && c.Reach.Nobody == "":
		d.TellNobody(tryingOut)
	}
}

// placeOf is the place of a plan at which a probe hangs.
func placeOf(p *alarms.Plan, probe alarms.ProbeID) alarms.Place {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if pr.ID == probe {
					return pl
				}
			}
		}
	}
	return alarms.Place{}
}

// cropPlaces reads a configuration for each crop, once: what a crop is said to
// bring is what it brings.
var cropPlaces = sync.OnceValue(func() (all []page.CropPlace) {
	for _, name := range crop.Names() {
		text := fmt.Sprintf(cropText, name)
		c, _ := config.ParseToSetUp("crop.toml", []byte(text), func(string) (string, bool) { return "", false })
		if c != nil {
			all = append(all, page.CropPlace{Crop: name, Place: placeOf(&c.Plan, "probe")})
		}
	}
	return all
})

const cropText = `
[nobody-told]
because = "it is only read"
[house.house]
day-from = "06:00"
day-to = "18:00"
[house.house.place.place]
crop = %q
[probe.probe]
place = "house/place"
topic = "probe"
form = "json"
temperature = { from = "/t" }
humidity = { from = "/h" }
`

// Crops implements page.First.
func (*first) Crops() []page.CropPlace { return cropPlaces() }
