package door

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"time"
)

// Memory keeps a few kilobytes about sessions, so that a browser stays signed
// in when the watch is started again. It must be readable by the watch alone.
type Memory interface {
	// Load returns what was saved last; nothing at first.
	Load() ([]byte, error)
	Save([]byte) error
}

// saveUsedAfter is how old the time of the last visit may be in memory: a card
// is not written for every visit.
const saveUsedAfter = 24 * time.Hour

// memoryForm is the version of what is saved.
const memoryForm = 1

// remembered is what memory holds: hashes of passwords and of session IDs.
type remembered struct {
	Form     int               `json:"form"`
	Accounts map[string]string `json:"accounts"`
	Sessions []rememberedOne   `json:"sessions"`
}

type rememberedOne struct {
	ID      string    `json:"id"` // SHA-256 of it, in hexadecimal
	Account string    `json:"account"`
	Used    time.Time `json:"used"`
}

// load takes over what memory has. An error says why everybody must sign in
// again; the sessions can be used all the same.
func (s *sessions) load(m Memory) error {
	if m == nil {
		return nil
	}
	s.memory = m
	data, err := m.Load()
	if err != nil || len(data) == 0 {
		return err
	}
	var r remembered
	if err := json.Unmarshal(data, &r); err != nil {
		return fmt.Errorf("what is remembered of sessions cannot be read: %w", err)
	}
	if r.Form != memoryForm {
		return fmt.Errorf("what is remembered of sessions is in form %d; this program reads form %d", r.Form, memoryForm)
	}
	for account, hash := range r.Accounts {
		s.hashes[account] = hash
	}
	now := s.now()
	for _, one := range r.Sessions {
		raw, err := hex.DecodeString(one.ID)
		if err != nil || len(raw) != sha256.Size || now.Sub(one.Used) > sessionLife || one.Used.After(now.Add(time.Hour)) {
			continue
		}
		s.makeRoomLocked(one.Account)
		s.seen[[sha256.Size]byte(raw)] = session{account: one.Account, used: one.Used, saved: one.Used}
	}
	return nil
}

// keepOnly ends sessions of accounts that are no longer there.
func (s *sessions) keepOnly(ring keyring) {
	for account := range s.hashes {
		if ring[account] == nil {
			delete(s.hashes, account)
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for h, one := range s.seen {
		if k := ring[one.account]; k == nil || k.lock == nil {
			delete(s.seen, h)
		}
	}
}

// save writes all down. A memory that refuses costs no session: browsers then
// stay signed in until the watch is started again.
func (s *sessions) save() {
	if s.memory == nil {
		return
	}
	s.saving.Lock()
	defer s.saving.Unlock()
	data, err := json.Marshal(s.remember())
	if err == nil {
		err = s.memory.Save(append(data, '\n'))
	}
	if err != nil {
		s.failed(err)
	}
}

func (s *sessions) remember() remembered {
	r := remembered{Form: memoryForm, Accounts: s.hashes, Sessions: []rememberedOne{}}
	s.mu.Lock()
	for h, one := range s.seen {
		r.Sessions = append(r.Sessions, rememberedOne{hex.EncodeToString(h[:]), one.account, one.used.UTC().Truncate(time.Second)})
	}
	s.mu.Unlock()
	slices.SortFunc(r.Sessions, func(a, b rememberedOne) int { return cmp.Compare(a.ID, b.ID) })
	return r
}
