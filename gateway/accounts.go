package gateway

import (
	"bytes"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/config"
	"telltale/gateway/page"
	"telltale/gateway/page/door"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// Files of the page in the store's directory, for the watch alone.
const (
	keyFile      = "page-key"      // signs links and forms; made once
	sessionsFile = "page-sessions" // who is signed in, as hashes
	keySize      = 32              // bytes
)

// accountsOf says who may use the page.
func accountsOf(c *config.Config) []door.Account {
	var all []door.Account
	for _, a := range c.Page.Accounts {
		all = append(all, door.Account{ID: a.ID, Name: a.Name, May: door.May(a.May),
			Password: a.Password.Reveal(), PasswordHash: a.PasswordHash.Reveal(), Token: a.Token.Reveal()})
	}
	return all
}

// viewOnly reports whether a person has an account that may look only.
func viewOnly(c *config.Config, person string) bool {
	return slices.ContainsFunc(c.Page.Accounts, func(a config.PageAccount) bool {
		return a.Person == person && a.May == config.MayView
	})
}

// linked lets messages have links that acknowledge, where the config says
// under which address people find the page.
func (p *parts) linked(r reach.Rules) reach.Rules {
	if base := p.cfg.Page.URL; base != "" {
		ackLinks := p.ackLinks()
		r.Link = func(alarm alarms.AlarmID, transition, person string, until time.Time) string {
			return ackLinks.Link(base, alarm, transition, person, until)
		}
	}
	return r
}

// admit tells the page who may come in and whose links are good.
func (p *parts) admit(o *page.Options) {
	o.Key = p.pageKey("forms")
	o.Memory = pageMemory{filepath.Join(p.cfg.Store.Directory, sessionsFile)}
	o.AckLinks = p.ackLinks()
	people := rulesOf(p.cfg).People
	o.MayAcknowledge = func(name string) bool {
		return slices.ContainsFunc(people, func(one reach.Person) bool { return one.Name == name && !one.NoLink })
	}
}

// ackLinks makes and reads links; each call returns one that understands the others'.
func (p *parts) ackLinks() *door.AckLinks { return door.NewAckLinks(p.pageKey("taps")) }

// pageKey returns the key for one use. Where it cannot be kept, links and
// forms are good until the watch stops.
func (p *parts) pageKey(use string) []byte {
	if p.key == nil {
		var err error
		if p.key, err = keptKey(filepath.Join(p.cfg.Store.Directory, keyFile)); err != nil {
			p.log.Error().Err(err).Msg("the page's key could not be kept: links in messages end when the watch stops")
		}
	}
	mac := hmac.New(sha256.New, p.key)
	mac.Write([]byte(use))
	return mac.Sum(nil)
}

// keptKey reads the key in a file, or makes one and writes it there. It always
// returns a key; the error says why it will be another one next time.
func keptKey(path string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if err == nil {
		if key, err := hex.DecodeString(string(bytes.TrimSpace(text))); err == nil && len(key) == keySize {
			return key, reach.Hide(path)
		}
	}
	key := make([]byte, keySize)
	if _, fault := rand.Read(key); fault != nil {
		return key, fault
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return key, err
	}
	return key, writePrivate(path, []byte(hex.EncodeToString(key)+"\n"))
}

// pageMemory implements page.Memory in a file.
type pageMemory struct{ path string }

// Load implements page.Memory.
func (m pageMemory) Load() ([]byte, error) {
	data, err := os.ReadFile(m.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return data, err
}

// Save implements page.Memory.
func (m pageMemory) Save(data []byte) error { return writePrivate(m.path, data) }

// writePrivate writes a file that its owner alone can read, whole or not at
// all, so that it survives a power cut.
func writePrivate(path string, data []byte) error {
	if err := reach.WriteHidden(path, data); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return store.SyncDir(filepath.Dir(path))
}
