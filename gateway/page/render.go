package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"sync"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/draw"
)

//go:embed templates/*.html static/* static/css/*.css static/js/*.js
var files embed.FS

// views are the pages and the files that go with them. A page is parsed when
// it is first shown: all of them take a third of the memory of a watch.
type views struct {
	pages  map[sheet]func() (*template.Template, error)
	files  map[string][]byte
	assets map[string]string // name to address with the content's hash
}

// sheet is a page in one language: its template holds no words, but says them.
type sheet struct {
	page string
	in   tongue.Tongue
}

var fileTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
	".png": "image/png", ".webmanifest": "application/manifest+json"}

// readViews finds every template and reads every file. A template named part_
// and the frame belong to every page, each other one is the page of its name.
func readViews() (views, error) {
	v := views{pages: map[sheet]func() (*template.Template, error){}, files: map[string][]byte{}, assets: map[string]string{}}
	if err := v.readFiles(); err != nil {
		return v, err
	}
	helpers := template.FuncMap{"asset": func(name string) string { return v.assets[name] }, "long": draw.Ems,
		"steps":   func(id alarms.AlarmID) []string { return strings.SplitAfter(string(id), "/") },
		"visible": visible,
		"pieces":  func(payload string) []string { return strings.SplitAfter(payload, ",") },
		"parts":   func(sentence string) []string { return strings.SplitAfter(sentence, ".") }, // of the names in it
		"after":   func(sep, s string) []string { return strings.SplitAfter(s, sep) }}
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return v, err
	}
	for _, name := range names {
		page := strings.TrimSuffix(path.Base(name), ".html")
		if page == "frame" || strings.HasPrefix(page, "part_") {
			continue
		}
		for _, in := range tongue.Tongues() {
			v.pages[sheet{page, in}] = sync.OnceValues(func() (*template.Template, error) {
				said := template.FuncMap{"say": in.Say, "said": func(x tongue.Saying) string { return x.In(in) }, "lang": in.Code, "spoken": func() map[string]string { return spokenIn(in) }}
				return template.New(page).Funcs(helpers).Funcs(said).ParseFS(files, "templates/frame.html", "templates/part_*.html", name)
			})
		}
	}
	return v, nil
}

// write writes one part of a page in a language.
func (v *views) write(w io.Writer, in tongue.Tongue, page, part string, data any) error {
	t, err := v.pages[sheet{page, in}]()
	if err != nil {
		return fmt.Errorf("the page %s cannot be read: %w", page, err)
	}
	return t.ExecuteTemplate(w, part, data)
}

// draw writes the live parts of the front page, without blanks around them: a browser keeps
// those of a page and drops those of news, and would take the same part for another.
func (v *views) draw(front *frontView, in tongue.Tongue) (all []piece, err error) {
	var buf bytes.Buffer
	for _, p := range front.pieces() {
		buf.Reset()
		if err := v.write(&buf, in, "front", p.template, p.data); err != nil {
			return nil, err
		}
		all = append(all, piece{p.id, string(bytes.TrimSpace(buf.Bytes()))})
	}
	return all, nil
}

// readFiles takes what is served as it stands, and joins style and script,
// which lie in one file a part, in the order of their names.
func (v *views) readFiles() error {
	entries, err := fs.ReadDir(files, "static")
	if err != nil {
		return err
	}
	for _, e := range entries {
		if e.IsDir() {
			continue
		}
		data, err := files.ReadFile("static/" + e.Name())
		if err != nil {
			return err
		}
		v.put(e.Name(), data)
	}
	for name, parts := range map[string]string{"page.css": "static/css/*.css", "page.js": "static/js/*.js"} {
		data, err := joined(parts)
		if err != nil {
			return err
		}
		v.put(name, data)
	}
	return nil
}

func (v *views) put(name string, data []byte) {
	sum := sha256.Sum256(data)
	v.files[name] = data
	v.assets[name] = "/static/" + name + "?v=" + hex.EncodeToString(sum[:6])
}

func joined(pattern string) ([]byte, error) {
	names, err := fs.Glob(files, pattern)
	if err != nil {
		return nil, err
	}
	var all []byte
	for _, name := range names {
		data, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		all = append(append(all, data...), '\n')
	}
	return all, nil
}

// frame is what every page has around it.
type frame struct {
	Name     string // of the garden
	Title    string // of this page, "" for the front page
	Said     string // what was just done
	Played   string // Options.Played
	Fellow   string // Options.Accompanies, in the visitor's locale
	Past     bool
	SignedIn bool   // there is something to sign out of
	MayAct   bool   // else forms are not shown
	Known    string // the account's name, which the log gets; "": the visitor says it
	Nav      []navLink
	Here     string // address of this page, to come back to
	Degrees  []deviceChoice
	Tongues  []deviceChoice
	First    firstWarning
}

type faultView struct {
	frame
	Say string
}

func (s *Server) frame(r *http.Request, title tongue.Text, args ...any) frame {
	w, played := s.wordsOf(r), ""
	if s.options.Played != nil {
		played = s.options.Played(w.Tongue)
	}
	return frame{Name: s.options.Name, Title: w.Say(title, args...), Played: played, Fellow: s.fellow(r),
		SignedIn: s.door.Locked() && s.door.SignedIn(r), MayAct: s.door.MayAct(r), Known: s.door.KnownAs(r), Nav: s.navigation(r),
		Here: r.URL.RequestURI(), Degrees: degreesChoices(w, r), Tongues: tongueChoices(w), First: s.firstWarning(r)}
}

// fellow says which watch this one accompanies, to who may see anything.
func (s *Server) fellow(r *http.Request) string {
	if s.options.Accompanies == nil || s.door.MustSignIn(r) {
		return ""
	}
	return s.options.Accompanies(s.wordsOf(r).Core)
}

// render answers with a page; nothing is sent where the template fails.
func (s *Server) render(w http.ResponseWriter, r *http.Request, status int, page string, data any) error {
	return s.renderPart(w, r, status, page, "frame", data)
}

func (s *Server) renderPart(w http.ResponseWriter, r *http.Request, status int, page, part string, data any) error {
	var buf bytes.Buffer
	if err := s.views.write(&buf, s.wordsOf(r).Tongue, page, part, data); err != nil {
		return fmt.Errorf("the page %s could not be drawn: %w", page, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = buf.WriteTo(w) // a visitor who has gone cannot be told
	return nil
}

// static serves the style, the script and the icon.
func (s *Server) static(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("file")
	data, ok := s.views.files[name]
	if !ok {
		return answer.Say(answer.Absent, "There is no such file.")
	}
	w.Header().Set("Content-Type", fileTypes[path.Ext(name)])
	w.Header().Set("Cache-Control", "no-cache")
	if strings.HasSuffix(s.views.assets[name], "?"+r.URL.RawQuery) {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	tag := s.views.assets[name][len("/static/?v=")+len(name):]
	w.Header().Set("Etag", `"`+tag+`"`)
	if strings.Contains(r.Header.Get("If-None-Match"), tag) { // it may have come packed
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	_, _ = w.Write(data)
	return nil
}

// scriptTexts are what the page's scripts say, by the names that they have for it;
// every page carries them in its language. "%s" is filled in by the script.
var scriptTexts = map[string]tongue.Text{
	"new":       "New: %s",
	"stopped":   "The watch was stopped. This page shows the past, as it was at %s. It keeps trying to reach the watch.",
	"silent":    "Nothing has come from the watch since %[1]s. This page shows the past, as it was at %[1]s. It keeps trying to reach the watch.",
	"undone":    "The watch could not be reached, so nothing was done.",
	"before":    "The watch could not be reached, so what stands below is of before. It is tried again.",
	"stays":     "The watch could not be reached, so this is still the time before.",
	"unchanged": "The watch could not be reached, so nothing was changed.",
	"answered":  "The watch answered %s.",
	"forbidden": "The browser was not allowed to show notifications, so nothing was changed.",
	"noservice": "The browser's push service did not register this device. Is it online? It said: %s",
	"browser":   "The browser said: %s",
	"phone":     "phone",
	"computer":  "computer",
}

// workerTexts are what the worker says that takes pushed messages.
var workerTexts = map[string]tongue.Text{
	"acknowledge": "Acknowledge",
	"open":        "Open",
	"again":       "Try again",
	"news":        "News from the watch",
	"unread":      "It could not be read on this device. Open the page and look.",
	"not":         "Not acknowledged",
	"done":        "Acknowledged",
	"unreached":   "The watch could not be reached. The alarm stands as it was: try again, or open the page.",
	"lapsed":      "This device takes no alarms any more",
	"moved":       "Its push service has changed its address, and the watch could not be told. Open the page to switch alarms on again.",
	"away":        "The watch cannot be reached",
	"unknown":     "This device does not know how it is in the houses now. Nothing old is shown, so that it is not taken for the present.",
	"look":        "Look whether this device has a network and whether the watch's machine runs. Until then go and look, and trust the mechanical thermostat.",
}

func spokenIn(in tongue.Tongue) map[string]string { return inTongue(in, scriptTexts) }

func inTongue(in tongue.Tongue, texts map[string]tongue.Text) map[string]string {
	out := make(map[string]string, len(texts))
	for name, text := range texts {
		out[name] = in.Say(text)
	}
	return out
}

// workerIn is the worker in a language: what it says, then the script.
func (v *views) workerIn(in tongue.Tongue) ([]byte, error) {
	said := inTongue(in, workerTexts)
	said["lang"] = in.Code()
	text, err := json.Marshal(said)
	if err != nil {
		return nil, err
	}
	return fmt.Appendf(nil, "\"use strict\";\nconst words = %s;\n%s", text, v.files["worker.js"]), nil
}
