package page

import (
	"encoding/json"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/decode"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/words"
)

// firstFields are the fields of the form that pass through it unchanged.
var firstFields = []string{"topic", "form", "time-from", "time-unit", "part", "probe", "every", "where", "place", "house",
	"latitude", "longitude", "day-from", "day-to", "crop", "outside-crop", "garden", "degrees", "zone", "tell",
	"person", "mail", "server", "security", "from", "user", "password"}

// limited are the quantities that the form asks limits for, where they are sent.
var limited = slices.DeleteFunc(slices.Clone(alarms.Quantities), func(q alarms.Quantity) bool {
	return q.Facts().Of != alarms.OfPlants || q.Derived()
})

func limitField(q alarms.Quantity, limit string) string { return string(q) + "-" + limit }

// formProblem is one field that cannot be used.
type formProblem struct{ Field, Say string }

// wishOf reads the form. Everything that the configuration itself checks is
// left to it.
func wishOf(say words.Words, v url.Values) (Wish, []formProblem) {
	f := &wishForm{v: v, w: say}
	w := Wish{Topic: v.Get("topic"), Form: f.text("form"), TimeFrom: v.Get("time-from"), TimeUnit: f.text("time-unit"),
		Probe: f.text("probe"), Every: strings.ReplaceAll(f.text("every"), " ", ""),
		HouseName: f.text("house"), PlaceName: f.text("place"), Outside: v.Get("outside") != "",
		Latitude: f.number("latitude"), Longitude: f.number("longitude"),
		DayFrom: f.text("day-from"), DayTo: f.text("day-to"), Crop: f.text("crop"), OutsideCrop: f.text("outside-crop"),
		GardenName: f.text("garden"), Degrees: f.text("degrees"), Zone: f.text("zone")}
	w.Reads = f.reads()
	w.House, w.Place, _ = strings.Cut(f.text("where"), "/")
	if w.Probe == "" {
		f.bad("probe", "Give the probe a name, such as bench 1.")
	}
	if w.House == "" && w.HouseName == "" {
		f.bad("house", "Give the house a name.")
	}
	if w.Place == "" && w.PlaceName == "" && !w.Outside {
		f.bad("place", "Say where in the house the probe hangs, such as bench.")
	}
	for _, q := range limited {
		l := WishLimits{q, f.number(limitField(q, "low-low")), f.number(limitField(q, "low")),
			f.number(limitField(q, "high")), f.number(limitField(q, "high-high"))}
		if l.LowLow != nil || l.Low != nil || l.High != nil || l.HighHigh != nil {
			w.Limits = append(w.Limits, l)
		}
	}
	if v.Get("tell") == "mail" {
		w.Mail = f.mail()
	}
	return w, f.problems
}

type wishForm struct {
	v        url.Values
	w        words.Words
	problems []formProblem
}

func (f *wishForm) bad(field string, text tongue.Text, args ...any) {
	f.problems = append(f.problems, formProblem{field, f.w.Say(text, args...)})
}

func (f *wishForm) text(field string) string { return answer.Tidy(f.v.Get(field), 200) }

// number reads a number with a decimal point or comma; nil: not given.
func (f *wishForm) number(field string) *float64 {
	text := strings.TrimSpace(f.v.Get(field))
	if text == "" {
		return nil
	}
	n, err := strconv.ParseFloat(strings.NewReplacer(",", ".", "−", "-", " ", "").Replace(text), 64)
	if err != nil || n != n || n < -1e6 || n > 1e6 {
		f.bad(field, "%s must be a number such as 21.5 (you wrote %q).", f.fieldWords(field), answer.Tidy(text, 40))
		return nil
	}
	return &n
}

func (f *wishForm) reads() []decode.Read {
	var out []decode.Read
	for _, text := range f.v["read"] {
		if text == "" {
			continue
		}
		var r decode.Read
		if json.Unmarshal([]byte(text), &r) != nil || !r.Quantity.Known() {
			f.bad("read", "Choose again how the payload is read.")
			continue
		}
		for _, o := range out {
			if o.Quantity == r.Quantity {
				f.bad("read", "A probe measures %s once. Leave one of the two out, and add it as a probe of its own afterwards.", r.Quantity)
			}
		}
		out = append(out, r)
	}
	if len(out) == 0 && len(f.problems) == 0 {
		f.bad("read", "Choose at least one value that the probe measures.")
	}
	return out
}

func (f *wishForm) mail() *WishMail {
	m := &WishMail{Person: f.text("person"), Address: f.text("mail"), Server: f.text("server"), Security: f.text("security"),
		From: f.text("from"), User: f.text("user"), Password: f.v.Get("password")}
	for _, one := range []struct {
		field, value string
		say          tongue.Text
	}{
		{"person", m.Person, "Say who is told."}, {"mail", m.Address, "Give the mail address of the person."},
		{"server", m.Server, "Give the mail server with its port, such as mail.example.org:587."},
		{"from", m.From, "Give the address that the mails come from."}} {
		if one.value == "" {
			f.bad(one.field, one.say)
		}
	}
	return m
}

// fieldWords are how a field is called in a sentence.
func (f *wishForm) fieldWords(field string) string {
	for _, q := range limited {
		if limit, ok := strings.CutPrefix(field, string(q)+"-"); ok && slices.Contains(alarms.LimitNames[:], limit) {
			return f.w.Say("The %s limit of %s", limit, q)
		}
	}
	return f.w.Say("The %s|a field", field)
}

// encodeRead writes a choice as the value of an option.
func encodeRead(r decode.Read) string {
	text, err := json.Marshal(r)
	if err != nil {
		return "" // cannot be: it has plain fields alone
	}
	return string(text)
}

// samePlace reports whether two reads look at the same place of a payload.
func samePlace(r, o decode.Read) bool {
	r.Quantity, r.Unit, r.Factor, r.Inverted, r.Optional = o.Quantity, o.Unit, o.Factor, o.Inverted, o.Optional
	return encodeRead(r) == encodeRead(o)
}
