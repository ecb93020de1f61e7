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
)

//go:embed templates/*.html static/*
var files embed.FS

// views are the parsed pages and the files that go with them.
type views struct {
	pages  map[string]*template.Template
	files  map[string][]byte
	assets map[string]string // name to address with the content's hash
}

var fileTypes = map[string]string{
	".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

func parseViews() (views, error) {
	v := views{pages: map[string]*template.Template{}, files: map[string][]byte{}, assets: map[string]string{}}
	entries, err := fs.ReadDir(files, "static")
	if err != nil {
		return v, err
	}
	for _, e := range entries {
		data, err := files.ReadFile("static/" + e.Name())
		if err != nil {
			return v, err
		}
		sum := sha256.Sum256(data)
		v.files[e.Name()] = data
		v.assets[e.Name()] = "/static/" + e.Name() + "?v=" + hex.EncodeToString(sum[:6])
	}
	helpers := template.FuncMap{"asset": func(name string) string { return v.assets[name] }}
	for _, page := range []string{"front", "log", "charts", "signin", "fault", "again"} {
		t := template.New(page).Funcs(helpers)
		t, err := t.ParseFS(files, "templates/frame.html", "templates/parts.html", "templates/works.html", "templates/chart.html",
			"templates/"+page+".html")
		if err != nil {
			return v, fmt.Errorf("the page %s cannot be read: %w", page, err)
		}
		v.pages[page] = t
	}
	return v, nil
}

// frame is what every page has around it.
type frame struct {
	Name     string // of the garden
	Title    string // of this page, "" for the front page
	Token    string
	Said     string // what was just done
	Past     bool
	SignedIn bool // there is something to sign out of
}

type faultView struct {
	frame
	Say string
}

func (s *Server) frame(w http.ResponseWriter, r *http.Request, title string) frame {
	return frame{Name: s.options.Name, Title: title, Token: s.sessions.token(s.sessions.greet(w, r)),
		SignedIn: s.locked && s.sessions.signedIn(r)}
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
	_, _ = w.Write(data)
	return nil
}
