package forms

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"telltale/alarms/tongue"
	"testing"

	"telltale/gateway/config"
	"telltale/gateway/config/edit"
)

const stored = "a stored secret 4711"

// channelFile is a garden with people and a mail channel, whose password lies in a file.
const channelFile = small + `
[channel.post]
kind = "mail"
server = "mail.example.org:587"
user = "watch"
password-file = "secrets/post"
from = "watch@example.org"

[channel.horn]
kind = "command"
run = ["/bin/true"]

[person.ann]
name = "Ann Lark"
mail = "ann@example.org"
channels = ["post"]

[person.ben]
mail = "ben@example.org"
phone = "+447700900123"
channels = ["post"]
`

// channelDraft is a draft of a file beside which the secret lies.
func channelDraft(t *testing.T, text string) (*edit.Draft, string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "secrets"), 0o700); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "garden.toml")
	for path, data := range map[string]string{filepath.Join(dir, "secrets", "post"): stored + "\n", file: text} {
		if err := os.WriteFile(path, []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	d, problems := edit.OpenDraft(file, noEnvironment)
	if d == nil {
		t.Fatal(problems)
	}
	return d, file
}

// send fills a form in as a browser does: what stands, and what is changed.
func send(t *testing.T, d *edit.Draft, at string, change map[string]string) Filled {
	t.Helper()
	f, there := Of(d, tongue.English, at)
	if !there {
		t.Fatalf("%s has no form", at)
	}
	given := map[string][]string{}
	for _, g := range f.Groups {
		for _, one := range g.Fields {
			given[one.Name] = []string{one.Value}
		}
	}
	for name, v := range change {
		given[name] = []string{v}
	}
	return Fill(d, f, given)
}

func fieldOf(f Form, name string) Field {
	for _, g := range f.Groups {
		for _, one := range g.Fields {
			if one.Name == name {
				return one
			}
		}
	}
	return Field{}
}

func saved(t *testing.T, d *edit.Draft, file string) *config.Config {
	t.Helper()
	if err := d.Save(); err != nil {
		t.Fatal(err)
	}
	c, problems := config.Load(file, noEnvironment)
	if c == nil {
		t.Fatal(problems)
	}
	return c
}

func channelOf(c *config.Config, name string) config.Channel {
	for _, ch := range c.Reach.Channels {
		if ch.Name == name {
			return ch
		}
	}
	return config.Channel{}
}

func TestEveryWayHasItsForm(t *testing.T) {
	d, _ := channelDraft(t, channelFile)
	var titles []string
	for _, one := range Things(d, tongue.English) {
		if strings.HasPrefix(one.At, "channel/") {
			titles = append(titles, one.At+": "+one.Title)
		}
	}
	want := []string{"channel/post: Mail: post", "channel/+mail: A further mail server", "channel/+push: Alarms on phones with the page closed",
		"channel/+text: Text messages", "channel/+webhook: Another program that takes messages"}
	if !slices.Equal(titles, want) {
		t.Errorf("got %q, want %q", titles, want)
	}
	for _, at := range []string{"channel/horn", "channel/+command", "channel/+mqtt", "channel/+ring", "channel/+", "channel/none", "channel"} {
		if f, there := Of(d, tongue.English, at); there {
			t.Errorf("%s has the form %q", at, f.Title)
		}
	}
	if got := Channels(); !slices.Equal(got, []string{"mail", "push", "text", "webhook"}) {
		t.Errorf("kinds with a form: %v", got)
	}
}

// Each is made from nothing, with its secrets in files of their own.
func TestNewWaysAreWritten(t *testing.T) {
	text := channelFile + "\n[modem]\ndevice = \"/dev/null\"\n"
	for _, one := range []struct {
		kind   string
		change map[string]string
		good   func(config.Channel) bool
	}{
		{"mail", map[string]string{called: "Other mail", "server": "mail.example.net:465", "security": "tls", "user": "u", "password": " spaces too ", "from": "w@example.net", told: "Ann Lark"},
			func(c config.Channel) bool {
				return c.Mail.Server == "mail.example.net:465" && c.Mail.Password.Reveal() == " spaces too "
			}},
		{"push", map[string]string{called: "phones", "contact": "mailto:grower@example.org", told: "ann"}, func(c config.Channel) bool { return c.Push.Contact != "" }},
		{"text", map[string]string{called: "sms", told: "ben"}, func(c config.Channel) bool { return c.Kind == "text" }},
		{"webhook", map[string]string{called: "board", "url": "https://hook.example.org/t/0815", told: "ann, BEN"},
			func(c config.Channel) bool {
				return c.Webhook.URL.Reveal() == "https://hook.example.org/t/0815" && len(c.Webhook.Secret.Reveal()) == 32
			}},
	} {
		d, file := channelDraft(t, text)
		out := send(t, d, "channel/+"+one.kind, one.change)
		if out.Wrong() {
			t.Errorf("%s: %q %+v", one.kind, out.Problems, out.Form)
			continue
		}
		for _, l := range out.Lines {
			if strings.Contains(l.Text, "spaces too") || strings.Contains(l.Text, "0815") || strings.Contains(l.Text, "whsec_") {
				t.Errorf("%s: a line shows a secret: %s", one.kind, l.Text)
			}
		}
		c := saved(t, d, file)
		name := out.Form.Channel
		if ch := channelOf(c, name); string(ch.Kind) != one.kind || !one.good(ch) {
			t.Errorf("%s is read as %+v", one.kind, ch)
		}
		var hear []string
		for _, p := range c.Reach.People {
			if slices.Contains(p.Channels, name) {
				hear = append(hear, p.ID)
			}
		}
		want := map[string][]string{"mail": {"ann"}, "push": {"ann"}, "text": {"ben"}, "webhook": {"ann", "ben"}}[one.kind]
		if !slices.Equal(hear, want) {
			t.Errorf("%s is heard by %v, want %v", one.kind, hear, want)
		}
		err := filepath.WalkDir(filepath.Join(filepath.Dir(file), "secrets"), func(path string, e os.DirEntry, err error) error {
			if info, fault := e.Info(); err == nil && fault == nil && !e.IsDir() && info.Mode().Perm() != 0o600 {
				t.Errorf("%s has mode %o", path, info.Mode().Perm())
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		again, _ := edit.OpenDraft(file, noEnvironment)
		f, there := Of(again, tongue.English, "channel/"+name)
		if !there || f.Channel != name {
			t.Errorf("%s has no form afterwards", one.kind)
		}
		for _, g := range f.Groups {
			for _, one := range g.Fields {
				if one.Secret && (one.Value != "" || one.Shown || one.Needed) || strings.Contains(one.Hint+one.Value, "0815") {
					t.Errorf("%s shows its secret: %+v", name, one)
				}
			}
		}
		if one.kind == "webhook" && !strings.Contains(fieldOf(f, "url").Hint, "hook.example.org") {
			t.Errorf("where it leads is not said: %q", fieldOf(f, "url").Hint)
		}
	}
}

// Whoever may change a channel learns no secret by it: none is shown, and none goes to a
// server for which it was not given.
func TestNoSecretIsShownOrLedElsewhere(t *testing.T) {
	for name, one := range map[string]struct {
		change map[string]string
		wrong  string // said at the password
		pass   string // afterwards
	}{
		"nothing":                {nil, "", stored},
		"another sender":         {map[string]string{"from": "other@example.org"}, "", stored},
		"another server":         {map[string]string{"server": "mail.example.net:587"}, "Give it again.", stored},
		"its protection":         {map[string]string{"security": "tls"}, "Give it again.", stored},
		"server and password":    {map[string]string{"server": "mail.example.net:587", "password": "a new one"}, "", "a new one"},
		"the password alone":     {map[string]string{"password": "a new one"}, "", "a new one"},
		"a file for a password":  {map[string]string{"password-file": "/etc/shadow"}, "", stored},
		"an authority of theirs": {map[string]string{"authority-file": "/tmp/x"}, "", stored},
	} {
		d, file := channelDraft(t, channelFile)
		out := send(t, d, "channel/post", one.change)
		f := fieldOf(out.Form, "password")
		if !strings.Contains(f.Wrong, one.wrong) || (one.wrong == "") != (f.Wrong == "") || out.Wrong() != (one.wrong != "") || f.Value != "" {
			t.Errorf("%s: %q, %q %q", name, f.Wrong, f.Value, out.Problems)
		}
		if strings.Contains(d.Text(), "/etc/shadow") || strings.Contains(d.Text(), "authority-file") || strings.Contains(d.Text(), "a new one") {
			t.Errorf("%s: the file became\n%s", name, d.Text())
		}
		if one.wrong != "" {
			if len(out.Lines) != 0 || len(d.Changes()) != 0 {
				t.Errorf("%s: it is written nevertheless: %+v", name, out.Lines)
			}
			continue
		}
		if got := channelOf(saved(t, d, file), "post").Mail.Password.Reveal(); got != one.pass {
			t.Errorf("%s: the password is %q then, want %q", name, got, one.pass)
		}
	}
	// A webhook is signed for one receiver.
	d, file := channelDraft(t, channelFile)
	if out := send(t, d, "channel/+webhook", map[string]string{called: "board", "url": "https://hook.example.org/", told: "ann"}); out.Wrong() {
		t.Fatal(out.Problems)
	}
	saved(t, d, file)
	for url, says := range map[string]string{"https://other.example.org/": "secret: Give it again.", "http://hook.example.org/": "url: It must begin with https://", "http://127.0.0.1:9/": "url: It must begin with https://"} {
		d, _ = edit.OpenDraft(file, noEnvironment)
		out := send(t, d, "channel/board", map[string]string{"url": url})
		if got := "secret: " + fieldOf(out.Form, "secret").Wrong + " url: " + fieldOf(out.Form, "url").Wrong; !out.Wrong() || !strings.Contains(got, says) {
			t.Errorf("%s: %q", url, got)
		}
	}
}

func TestWhatIsWrongWithAWay(t *testing.T) {
	for _, one := range []struct {
		at, field, value, wrongAt, says string
	}{
		{"channel/post", "server", "mail.example.org", "server", "host:port"},
		{"channel/post", "from", "nobody", "from", "ust be a mail address"},
		{"channel/post", told, "Cy", told, "There is nobody called Cy."},
		{"channel/post", "then-every", "soon", "then-every", "soon"},
		{"channel/+webhook", "url", "", "url", "It is needed."},
		{"channel/+push", "contact", "me", "contact", "mailto:"},
	} {
		d, _ := channelDraft(t, channelFile)
		out := send(t, d, one.at, map[string]string{called: "new", one.field: one.value, "password": "x"})
		if got := fieldOf(out.Form, one.wrongAt).Wrong; !out.Wrong() || !strings.Contains(got, one.says) {
			t.Errorf("%s %s = %q: %q, %q", one.at, one.field, one.value, got, out.Problems)
		}
	}
}

// A way that goes is taken from the people who had it; who had no other is said.
func TestAWayIsTakenOut(t *testing.T) {
	two := strings.ReplaceAll(channelFile, `channels = ["post"]`, `channels = ["horn", "post"]`)
	d, file := channelDraft(t, two)
	if out := send(t, d, "channel/post", map[string]string{remove: "1"}); out.Wrong() {
		t.Fatal(out.Problems)
	}
	c := saved(t, d, file)
	if len(c.Reach.Channels) != len(channelsIn(t, two))-1 || slices.Contains(c.Reach.People[len(c.Reach.People)-1].Channels, "post") {
		t.Errorf("left are %+v", c.Reach)
	}
	d, _ = channelDraft(t, channelFile)
	if out := send(t, d, "channel/post", map[string]string{remove: "1"}); !out.Wrong() {
		t.Error("somebody is left without any way")
	}
	d, _ = channelDraft(t, two)
	if out := send(t, d, "channel/post", map[string]string{told: "ben"}); out.Wrong() || !strings.Contains(d.Text(), "name = \"Ann Lark\"\nmail = \"ann@example.org\"\nchannels = [\"horn\"]") {
		t.Errorf("%q\n%s", out.Problems, d.Text())
	}
}

func channelsIn(t *testing.T, text string) []config.Channel {
	t.Helper()
	d, _ := channelDraft(t, text)
	c, problems := d.Config()
	if c == nil {
		t.Fatal(problems)
	}
	return c.Reach.Channels
}

func noEnvironment(string) (string, bool) { return "", false }
