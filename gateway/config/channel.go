package config

import (
	"encoding/base64"
	"net/mail"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/loopback"
	"telltale/gateway/topic"
)

const (
	webhookSecretMark = "whsec_" // as the Standard Webhooks specification writes secrets
	leastWebhookKey   = 24       // bytes
	mostWebhookKey    = 64
)

func readChannels(root *table) []Channel {
	return walk.Each(root.children("channel"), readChannel)
}

func readChannel(t *table) Channel {
	t.checkID("a channel")
	kind := need(t, t.oneOf("kind", "mail", "webhook", "command", "push", "text", "ring", "mqtt"),
		"say \"mail\", \"webhook\", \"command\", \"push\", \"text\", \"ring\" or \"mqtt\"")
	c := Channel{Name: t.name, Kind: ChannelKind(kind.V), Rehearse: t.flag("rehearse").V}
	if !kind.Set {
		return c // its other keys cannot be judged
	}
	if c.Rehearse {
		t.warn(t.spot("rehearse"), "nothing is sent over this channel; it only logs what it would tell")
	}
	defer t.done()
	c.Timeout = t.span("time-limit", time.Second, 10*time.Minute).V
	if c.Kind != ByMQTT {
		c.Burst = t.count("at-once", 2, 100).V
		c.Every = t.span("then-every", 10*time.Second, day).V
	}
	switch c.Kind {
	case ByMail:
		c.Mail = readMail(t)
	case ByWebhook:
		c.Webhook = readWebhook(t)
	case ByCommand:
		c.Command = readCommand(t)
	case ByPush:
		c.Push = readPush(t)
	case ByMQTT:
		c.MQTT = readMQTT(t)
	}
	return c
}

func readMail(t *table) Mail {
	m := Mail{Server: need(t, t.address("server", "mail.example.org:587"), "name the mail server as host:port, such as \"mail.example.org:587\"").V,
		Security: t.oneOf("security", "starttls", "tls", "none").or("starttls"), User: t.text("user").V,
		From: need(t, t.mailAddress("from"), "give the address that messages come from").V, CAFile: t.authority("authority-file").V}
	password := t.secret("password")
	m.Password = password.V
	if (m.User != "") != password.Seen {
		t.problem(t.at, "user and password belong together: give both, or neither if the server wants none")
	}
	if m.Security == "none" && m.Server != "" && !loopback.Address(m.Server) {
		t.problem(t.spot("security"), "must be \"starttls\" or \"tls\" for a mail server on another machine (got \"none\")")
	}
	return m
}

func readWebhook(t *table) Webhook {
	w := Webhook{AllowPlain: t.flag("plain-http").V, CAFile: t.authority("authority-file").V}
	w.URL = t.hiddenURL(w.AllowPlain)
	secret := need(t, t.secret("secret"), "messages are signed with it; share it with the receiver through a file that secret-file names")
	if !secret.Set {
		return w
	}
	coded, marked := strings.CutPrefix(secret.V.Reveal(), webhookSecretMark)
	key, err := base64.StdEncoding.DecodeString(coded)
	switch {
	case !marked || err != nil:
		t.problem(secret.at, "must hold \"whsec_\" and behind it %d to %d bytes by chance, written in base64: (printf whsec_; openssl rand -base64 32)",
			leastWebhookKey, mostWebhookKey)
	case len(key) < leastWebhookKey || len(key) > mostWebhookKey:
		t.problem(secret.at, "must hold %d to %d bytes in base64, or others could guess it (got %d)", leastWebhookKey, mostWebhookKey, len(key))
	}
	w.Secret = NewSecret(string(key))
	return w
}

// hiddenURL reads an address that may hold a token: in the file as url, or as
// a secret from url-file or url-env.
func (t *table) hiddenURL(plain bool) Secret {
	open, file, env := t.text("url"), t.text("url-file"), t.text("url-env")
	var s Secret
	at := open.at
	switch {
	case count(open.Seen, file.Seen, env.Seen) != 1:
		t.problem(t.at, "needs exactly one of url, url-file and url-env: the address to post to, or where it is kept if it is a secret")
		return s
	case open.Set:
		s = NewSecret(open.V)
	case file.Set:
		s, _ = t.r.secretFile(file)
		at = file.at
	case env.Set:
		s, _ = t.r.secretEnv(env)
		at = env.at
	}
	if s.Given() {
		t.checkURL(at, s.Reveal(), plain)
	}
	return s
}

// count returns how many are true.
func count(given ...bool) int {
	return len(slices.DeleteFunc(given, func(g bool) bool { return !g }))
}

// checkURL checks an address to send to, without repeating it.
func (t *table) checkURL(at place, text string, plain bool) {
	u, err := url.Parse(text)
	switch {
	case err != nil || u.Hostname() == "" || u.Scheme != "https" && u.Scheme != "http":
		t.problem(at, "must be a whole address that begins with https://")
	case u.User != nil:
		t.problem(at, "must not hold a user name or password")
	case u.Scheme == "http" && !plain && !loopback.Host(u.Hostname()):
		t.problem(at, "must begin with https://, because http lets anybody on the way read along; if it never leaves your own network, add plain-http = true")
	}
}

func readCommand(t *table) Command {
	run := need(t, t.texts("run"), "give the program and its arguments, such as run = [\"/usr/local/bin/horn\", \"short\"]")
	if len(run.V) == 0 {
		return Command{}
	}
	program := run.V[0]
	info, err := os.Stat(program)
	switch {
	case !filepath.IsAbs(program):
		t.problem(run.at, "must begin with the full path of a program; no shell is involved (got %q)", program)
	case err != nil:
		t.problem(run.at, "names a program that cannot be run: %s (%s)", Reason(err), program)
	case info.IsDir() || info.Mode().Perm()&0o111 == 0:
		t.problem(run.at, "names a file that is no program; is it marked executable? (%s)", program)
	}
	return Command{Program: program, Args: run.V[1:]}
}

func readMQTT(t *table) MQTT {
	prefix := t.text("prefix")
	if prefix.Set {
		if err := topic.CheckBeginning(prefix.V); err != nil {
			t.wrong(prefix.at, err)
		}
	}
	return MQTT{Prefix: prefix.or("telltale")}
}

// mailAddress reads an e-mail address without a name before it.
func (t *table) mailAddress(key string) value[string] {
	return read(t, key, func(raw any) (string, error) {
		s, ok := raw.(string)
		a, err := mail.ParseAddress(s)
		if !ok || err != nil || a.Address != s {
			return "", tongue.Put("must be a mail address such as \"grower@example.org\" (got %s)", got(raw))
		}
		return s, nil
	})
}
