package page

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/gateway/page/answer"
)

// news is what a browser is sent: the pieces that differ from what it has.
type news struct {
	Clock  string            `json:"clock"`
	Shape  string            `json:"shape"`
	Still  bool              `json:"still"`
	Pieces map[string]string `json:"pieces"`
}

// live follows the houses by server-sent events: "news" whenever something
// changed and at least every few seconds, "bye" when the watch stops, "out"
// when the session has ended.
func (s *Server) live(w http.ResponseWriter, r *http.Request) error {
	a := audience{s.wordsOf(r).Locale, !s.door.MayAct(r)}
	account := ""
	if k := s.door.Account(r); k != nil {
		account = k.ID
	}
	c, ok := s.hub.join(a, account)
	if !ok {
		return &answer.Error{Kind: answer.Away, Say: "Too many pages follow the watch live already.", After: 30}
	}
	defer s.hub.leave(c)
	first, err := s.hub.draw(r.Context(), a)
	if err != nil {
		return err
	}
	head := w.Header()
	head.Set("Content-Type", "text/event-stream; charset=utf-8")
	head.Set("Cache-Control", "no-store")
	head.Set("X-Accel-Buffering", "no") // a proxy must pass events on at once
	control := http.NewResponseController(w)
	w.WriteHeader(http.StatusOK)
	st := &stream{server: s, w: w, control: control, had: drawing{pieces: first.kept(r.URL.Query().Get("has"))}}
	st.follow(r, c, first)
	return nil
}

// stream is one browser's connection.
type stream struct {
	server  *Server
	w       http.ResponseWriter
	control *http.ResponseController
	had     drawing // as the browser has it
}

func (st *stream) follow(r *http.Request, c *client, first drawing) {
	next := first
	for {
		if err := st.tell(next); err != nil {
			if errors.Is(err, os.ErrDeadlineExceeded) { // else it has gone by itself
				st.server.hub.dropped.Add(1)
				st.server.log.Info().Err(err).Str("client", st.server.door.ClientOf(r)).Msg("a browser took nothing and was dropped")
			}
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-st.server.hub.bye:
			_ = st.send("bye", []byte("{}")) // the last thing said: one who has gone need not hear it
			return
		case next = <-c.mail:
		}
		if st.server.door.MustSignIn(r) {
			_ = st.send("out", []byte("{}"))
			return
		}
	}
}

// marks name what a page is drawn with: its shape, and each piece by a digest. The page asks
// with them for the first news, and is not sent again what it has.
func (d drawing) marks() string {
	all := []string{d.shape}
	for _, p := range d.pieces {
		sum := fnv.New64a()
		_, _ = sum.Write([]byte(p.html)) // never fails
		all = append(all, strconv.FormatUint(sum.Sum64(), 36))
	}
	return strings.Join(all, ".")
}

// kept are the pieces of d that a page has which was drawn with marks.
func (d drawing) kept(marks string) (has []piece) {
	theirs, ours := strings.Split(marks, "."), strings.Split(d.marks(), ".")
	if len(theirs) != len(ours) || theirs[0] != ours[0] {
		return nil
	}
	for i, p := range d.pieces {
		if theirs[i+1] == ours[i+1] {
			has = append(has, p)
		}
	}
	return has
}

// tell sends what changed since the browser was last told.
func (st *stream) tell(d drawing) error {
	change := d.change
	if change == nil || d.after != st.had.number {
		var err error
		if change, err = d.since(st.had); err != nil {
			return err
		}
	}
	st.had = d
	return st.send("news", change)
}

// since writes what is in d and was not in before.
func (d drawing) since(before drawing) ([]byte, error) {
	n := news{Clock: d.clock, Shape: d.shape, Still: d.still, Pieces: map[string]string{}}
	for i, p := range d.pieces {
		if i < len(before.pieces) && before.pieces[i] == p || slices.Contains(before.pieces, p) {
			continue
		}
		n.Pieces[p.id] = p.html
	}
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(n); err != nil {
		return nil, err
	}
	return bytes.TrimSpace(buf.Bytes()), nil
}

// send writes one event, within the time a browser is given to take it.
func (st *stream) send(event string, data []byte) error {
	if err := st.control.SetWriteDeadline(time.Now().Add(st.server.hub.stall)); err != nil {
		return fmt.Errorf("no deadline for a live page: %w", err)
	}
	if _, err := fmt.Fprintf(st.w, "event: %s\ndata: %s\n\n", event, data); err != nil {
		return err
	}
	if err := st.control.Flush(); err != nil {
		return err
	}
	return st.control.SetWriteDeadline(time.Time{}) // none while there is nothing to say
}
