package gateway

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/reach"
)

// converted is everything that convert.go makes of a config.
func converted(t *testing.T, c *config.Config) map[string]any {
	t.Helper()
	log := zerolog.Nop()
	export, link := exportOptions(c, nil, log), linkOptions(c, nil, nil, log)
	export.Now, link.Now = nil, nil // functions cannot be compared
	page := pageOptions(c, log)
	out := map[string]any{"store": storeOptions(c, log), "broker": brokerOptions(c, log), "link": link,
		"page": page, "rules": rulesOf(c), "export": export, "modem": modemOptions(c.Modem), "numbers": numbersOf(c), "letters": readersOf(c), "copies": CopySource(c)}
	for i, ch := range c.Reach.Channels {
		mail, err := mailOptions(c, ch.Mail)
		ok(t, err)
		hook, err := webhookOptions(ch.Webhook)
		ok(t, err)
		lamp, err := reach.NewMQTT(nil, ch.MQTT.Prefix)
		ok(t, err)
		topic, _ := lamp.Will()
		out[fmt.Sprint("channel ", i)] = []any{mail, hook, ch.Command, pushOptions(ch.Push), topic, ch.Name}
	}
	return out
}

func same(a, b map[string]any) bool {
	return maps.EqualFunc(a, b, func(x, y any) bool { return reflect.DeepEqual(x, y) })
}

// elsewhere are fields that are not converted, with where they are used.
var elsewhere = map[string]string{
	"Reach.Nobody":      "first_draft.go: not stated a second time",
	"Config.FromEnv":    "telltale backup",
	"Config.Plain":      "Config.Untouched",
	"Copies.Directory":  "signs.openCopies",
	"Copies.Every":      "signs.openCopies",
	"Copies.Keep":       "signs.openCopies",
	"Copies.LateAfter":  "signs.openCopies",
	"Config.Plan":       "given to the core as it is",
	"Config.Sources":    "given to the decoder as they are",
	"Config.Forms":      "given to the page as they are",
	"Broker.Run":        "build.openLink",
	"Store.Directory":   "build.openStore",
	"Page.OwnAuthority": "authority.openAuthority",
	"Metrics.OnPage":    "build.openPage",
	"Metrics.Address":   "build.openPage",
	"Heartbeat.URL":     "signs.openSigns",
	"Heartbeat.Every":   "signs.openSigns",
	"Log.Level":         "telltale watch",
	"Modem.Wanted":      "modem.openPhones",
	"Modem.Device":      "modem.openPhones",
	"Modem.Baud":        "modem.openPhones",
	"Channel.Kind":      "convert.notifier, see TestEveryKindOfChannelIsBuilt",
	"Channel.Rehearse":  "convert.channels, see TestEveryKindOfChannelIsBuilt",
	"Channel.Timeout":   "convert.channels, see TestEveryKindOfChannelIsBuilt",
	"Channel.Burst":     "convert.channels, see TestEveryKindOfChannelIsBuilt",
	"Channel.Every":     "convert.channels, see TestEveryKindOfChannelIsBuilt",
	"Mail.CAFile":       "see TestAnAuthorityFileIsRead",
	"Webhook.CAFile":    "see TestAnAuthorityFileIsRead",

	"Companion.First":  "accompany.openAccompanying",
	"Companion.Token":  "accompany.openAccompanying",
	"Companion.CAFile": "accompany.openAccompanying",
	"Companion.Plan":   "accompany.takePlan",
	"Companion.File":   "accompany.fetch",
	"Shared.Text":      "companion.Plan",
	"Shared.Version":   "companion.Report",
}

// filled is a config in which every field has a value.
func filled(t *testing.T) *config.Config {
	t.Helper()
	secret := config.NewSecret("a secret that is long enough")
	mail := config.Mail{Server: "mail.example.org:587", Security: "starttls", User: "u", Password: secret, From: "a@example.org"}
	return &config.Config{
		Plan:  alarms.Plan{Houses: []alarms.House{{ID: "long-house"}}},
		Named: []config.Named{{As: "mail-password", Path: "/run/mail-password"}},
		Broker: config.Broker{Run: true, Address: "127.0.0.1:1", CertFile: "c", KeyFile: "k", ClientCAFile: "ca",
			Accounts: []config.Account{{User: "u", Password: secret, MaySend: []string{"a"}, MayRead: []string{"b"}}}},
		Link: config.Link{Servers: []string{"mqtt://127.0.0.1"}, ClientID: "id", User: "u", Password: secret, CAFile: "ca", CertFile: "c",
			KeyFile: "k", ServerName: "n", QoS: 1, CleanSession: true, KeepAlive: time.Minute, QueueSize: 9},
		Store: config.Store{Directory: "d", KeepReadings: 1, KeepAverages: 2, KeepLog: 3},
		Reach: config.Reach{
			Channels: []config.Channel{
				{Name: "mail", Kind: config.ByMail, Mail: mail},
				{Name: "hook", Kind: config.ByWebhook, Mail: mail, Webhook: config.Webhook{URL: config.NewSecret("https://a.example.org/"), Secret: secret}},
				{Name: "horn", Kind: config.ByCommand, Mail: mail, Command: config.Command{Program: "/bin/true", Args: []string{"x"}}},
				{Name: "lamp", Kind: config.ByMQTT, Mail: mail, MQTT: config.MQTT{Prefix: "telltale"}},
			},
			People: []config.Person{{ID: "g", Name: "Grower", Channels: []string{"mail"}, Mail: "g@example.org", Phone: "+447700900123", QuietFrom: time.Hour, QuietTo: 2 * time.Hour}},
			Tell:   []config.Tell{{People: []string{"g"}, From: alarms.Medium, Houses: []alarms.HouseID{"long-house"}, Channels: []string{"mail"}, After: time.Minute}},
		},
		Page: config.Page{Name: "n", Address: "127.0.0.1:2", Password: secret, PasswordHash: secret, CertFile: "c", KeyFile: "k",
			ProxyTLS: true, Hosts: []string{"h"}, URL: "https://page.example.org/", LinksFor: time.Hour,
			Accounts: []config.PageAccount{{ID: "a", Name: "A", Person: "g", May: config.MayView, Password: secret, PasswordHash: secret, Token: secret}}},
		Export: config.Export{File: config.ExportFile{Path: "p"}, HTTP: config.ExportHTTP{URL: "https://b.example.org/", Token: secret, Every: time.Second}},
	}
}

// another is a value for a field that differs from what it holds; where the
// parts check a value it must be a good one.
var another = map[string]any{
	"PageAccount.May": config.MayAct, "Webhook.URL": config.NewSecret("https://c.example.org/"), "Webhook.Secret": config.NewSecret("another secret that is long"),
	"Mail.Server": "mail.example.org:465", "Person.ID": "h", "Person.Letter": config.WeekDay("monday"),
}

// TestEveryFieldOfTheConfigIsCarried changes one field after another and
// demands that what the parts are given changes too.
func TestEveryFieldOfTheConfigIsCarried(t *testing.T) {
	c := filled(t)
	base := converted(t, c)
	if !same(base, converted(t, filled(t))) {
		t.Fatal("the same config is converted differently each time")
	}
	tried := map[string]bool{}
	eachField(reflect.ValueOf(c).Elem(), func(name string, f reflect.Value) {
		tried[name] = true
		if _, used := elsewhere[name]; used {
			return
		}
		before := reflect.New(f.Type()).Elem()
		before.Set(f)
		if v, given := another[name]; given {
			f.Set(reflect.ValueOf(v).Convert(f.Type()))
		} else {
			change(t, name, f)
		}
		if same(base, converted(t, c)) {
			t.Errorf("%s is read from the file and then used by nobody", name)
		}
		f.Set(before)
	})
	for _, want := range []string{"Config.Plan", "Account.MayRead", "Link.QueueSize", "Person.QuietTo", "Tell.After", "ExportHTTP.Token", "Mail.User"} {
		if !tried[want] {
			t.Errorf("%s was not tried", want)
		}
	}
}

// eachField calls each for every field below v that is not itself a struct of
// package config, by the name of its type and field.
func eachField(v reflect.Value, each func(name string, f reflect.Value)) {
	for i := range v.NumField() {
		f, name := v.Field(i), v.Type().Name()+"."+v.Type().Field(i).Name
		inner := f.Type()
		if inner.Kind() == reflect.Slice {
			inner = inner.Elem()
		}
		switch ours := inner.Kind() == reflect.Struct && inner.PkgPath() == "telltale/gateway/config" && inner != reflect.TypeFor[config.Secret](); {
		case ours && f.Kind() == reflect.Slice:
			for j := range f.Len() {
				eachField(f.Index(j), each)
			}
		case ours:
			eachField(f, each)
		default:
			each(name, f)
		}
	}
}

func change(t *testing.T, name string, f reflect.Value) {
	t.Helper()
	switch {
	case f.Type() == reflect.TypeFor[config.Secret]():
		f.Set(reflect.ValueOf(config.NewSecret("another one")))
	case f.Kind() == reflect.String:
		f.SetString(f.String() + "x")
	case f.Kind() == reflect.Bool:
		f.SetBool(!f.Bool())
	case f.CanInt():
		f.SetInt(f.Int() + 1)
	case f.CanUint():
		f.SetUint(f.Uint() - 1)
	case f.CanFloat():
		f.SetFloat(f.Float() + 1)
	case f.Kind() == reflect.Slice:
		f.Set(reflect.Append(f, reflect.ValueOf("x").Convert(f.Type().Elem())))
	case f.Kind() == reflect.Map:
		f.Set(reflect.ValueOf(map[string]string{"x": "y"}))
	default:
		t.Fatalf("%s is of kind %v, which this test cannot change", name, f.Kind())
	}
}

func TestEveryKindOfChannelIsBuilt(t *testing.T) {
	c := filled(t)
	all, follow, err := channels(c, nil, nil, nil, zerolog.Nop())
	ok(t, err)
	if follow == nil {
		t.Error("nothing follows over MQTT")
	}
	var names, ordered []string
	for _, ch := range all {
		names = append(names, ch.Name)
		if ch.Ordered {
			ordered = append(ordered, ch.Name)
		}
	}
	if want := []string{"mail", "hook", "horn", "lamp"}; !slices.Equal(names, want) || !slices.Equal(ordered, []string{"lamp"}) {
		t.Errorf("built are %v, in order %v; want %v and the lamp", names, ordered, want)
	}
	for i := range c.Reach.Channels {
		c.Reach.Channels[i].Rehearse = true
		c.Reach.Channels[i].Timeout, c.Reach.Channels[i].Burst, c.Reach.Channels[i].Every = time.Second, 5, time.Hour
	}
	changed, follow, err := channels(c, nil, nil, nil, zerolog.Nop())
	ok(t, err)
	if follow != nil {
		t.Error("a lamp that is only rehearsed is followed all the same")
	}
	for i := range all {
		if reflect.DeepEqual(all[i].Notifier, changed[i].Notifier) {
			t.Errorf("rehearsing and limits change nothing on channel %s", all[i].Name)
		}
		if err := changed[i].Notifier.Tell(t.Context(), reach.TestTelling("Grower", all[i].Name, tongue.English, time.Now())); err != reach.ErrRehearsed {
			t.Errorf("a rehearsal over %s gives %v", all[i].Name, err)
		}
	}
	c.Reach.Channels[0].Kind = "pigeon"
	if _, _, err := channels(c, nil, nil, nil, zerolog.Nop()); err == nil || !strings.Contains(err.Error(), `channel mail: the kind "pigeon" is not known`) {
		t.Errorf("an unknown kind gives %v", err)
	}
}

func TestAnAuthorityFileIsRead(t *testing.T) {
	empty := filepath.Join(t.TempDir(), "empty.pem")
	ok(t, os.WriteFile(empty, []byte("nothing"), 0o600))
	for i, set := range []func(*config.Channel, string){
		func(ch *config.Channel, f string) { ch.Mail.CAFile = f },
		func(ch *config.Channel, f string) { ch.Webhook.CAFile = f },
	} {
		for _, f := range []string{empty, filepath.Join(t.TempDir(), "none.pem")} {
			c := filled(t)
			set(&c.Reach.Channels[i], f)
			if _, _, err := channels(c, nil, nil, nil, zerolog.Nop()); err == nil || !strings.Contains(err.Error(), f) {
				t.Errorf("%s with the authorities in %s gives %v", c.Reach.Channels[i].Name, f, err)
			}
		}
	}
}
