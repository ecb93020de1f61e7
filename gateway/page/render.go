package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"

	"telltale/alarms"
)

//go:embed templates/*.html static/* static/css/*.css static/js/*.js
var files embed.FS

// views are the parsed pages and the files that go with them.
type views struct {
	pages  map[string]*template.Template
	files  map[string][]byte
	assets map[string]string // name to address with the content's hash
}

var fileTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml",
	".png": "image/png", ".webmanifest": "application/manifest+json"}

// parseViews reads every template and file. A template named part_ and the
// frame belong to every page, each other one is the page of its name.
func parseViews() (views, error) {
	v := views{pages: map[string]*template.Template{}, files: map[string][]byte{}, assets: map[string]string{}}
	if err := v.readFiles(); err != nil {
		return v, err
	}
	helpers := template.FuncMap{"asset": func(name string) string { return v.assets[name] }, "long": long,
		"steps":   func(id alarms.AlarmID) []string { return strings.SplitAfter(string(id), "/") },
		"visible": visible,
		"pieces":  func(payload string) []string { return strings.SplitAfter(payload, ",") }}
	names, err := fs.Glob(files, "templates/*.html")
	if err != nil {
		return v, err
	}
	for _, name := range names {
		page := strings.TrimSuffix(path.Base(name), ".html")
		if page == "frame" || strings.HasPrefix(page, "part_") {
			continue
		}
		t, err := template.New(page).Funcs(helpers).ParseFS(files, "templates/frame.html", "templates/part_*.html", name)
		if err != nil {
			return v, fmt.Errorf("the page %s cannot be read: %w", page, err)
		}
		v.pages[page] = t
	}
	return v, nil
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
	Token    string
	Said     string // what was just done
	Past     bool
	SignedIn bool   // there is something to sign out of
	MayAct   bool   // else forms are not shown
	Known    string // the account's name, which the log gets; "": the visitor says it
	Nav      []navLink
	Here     string // address of this page, to come back to
	Degrees  []degreesChoice
	First    firstWarning
}

type faultView struct {
	frame
	Say string
}

func (s *Server) frame(w http.ResponseWriter, r *http.Request, title string) frame {
	return frame{Name: s.options.Name, Title: title, Token: s.sessions.token(s.sessions.greet(w, r)),
		SignedIn: s.locked && s.sessions.signedIn(r), MayAct: s.mayAct(r), Known: s.knownAs(r), Nav: s.navigation(r),
		Here: r.URL.RequestURI(), Degrees: degreesChoices(r), First: s.firstWarning(r)}
}

// render answers with a page; nothing is sent where the template fails.
func (s *Server) render(w http.ResponseWriter, status int, page string, data any) error {
	return s.renderPart(w, status, page, "frame", data)
}

func (s *Server) renderPart(w http.ResponseWriter, status int, page, part string, data any) error {
	var buf bytes.Buffer
	if err := s.views.pages[page].ExecuteTemplate(&buf, part, data); err != nil {
		return fmt.Errorf("the page %s could not be drawn: %w", page, err)
	}
	if v, ok := data.(interface{ looksOnly() bool }); ok && v.looksOnly() {
		kept := s.withoutActs(buf.Bytes())
		buf.Reset()
		buf.Write(kept)
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
		return faultf(kindAbsent, "There is no such file.")
	}
	w.Header().Set("Content-Type", fileTypes[path.Ext(name)])
	w.Header().Set("Cache-Control", "no-cache")
	if strings.HasSuffix(s.views.assets[name], "?"+r.URL.RawQuery) {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	tag := `"` + s.views.assets[name][len("/static/?v=")+len(name):] + `"`
	w.Header().Set("Etag", tag)
	if strings.Contains(r.Header.Get("If-None-Match"), tag) {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	_, _ = w.Write(data)
	return nil
}
