package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"

	"halforder/job"
	"halforder/report"
	"halforder/web/guard"
)

//go:embed pages/*.html
var pageFiles embed.FS

//go:embed static
var staticFiles embed.FS

// pages are the parsed templates and the static files with their version.
type pages struct {
	byName  map[string]*template.Template
	version string
}

func loadPages() (*pages, error) {
	p := &pages{byName: map[string]*template.Template{}}
	var err error
	if p.version, err = versionOf(staticFiles); err != nil {
		return nil, err
	}
	base, err := template.New("base.html").Funcs(p.functions()).ParseFS(pageFiles, "pages/base.html", "pages/shared.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		short := strings.TrimSuffix(path.Base(name), ".html")
		if short == "base" || short == "shared" {
			continue
		}
		if p.byName[short], err = template.Must(base.Clone()).ParseFS(pageFiles, name); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// versionOf names the content of all static files, so that browsers may keep
// them for ever.
func versionOf(files fs.FS) (string, error) {
	h := sha256.New()
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := fs.ReadFile(files, name)
		fmt.Fprintf(h, "%s %d\n", name, len(data))
		h.Write(data)
		return err
	})
	return hex.EncodeToString(h.Sum(nil)[:6]), err
}

func (p *pages) functions() template.FuncMap {
	return template.FuncMap{
		"static":   func(name string) string { return "/static/" + p.version + "/" + name },
		"percent":  report.Percent,
		"money":    func(c job.Cents) string { return report.Money(int64(c)) },
		"duration": report.Duration,
		"clock":    func(t time.Time) string { return t.Local().Format("2006-01-02 15:04") },
		"hundred":  func(p float64) int { return int(100*min(max(p, 0), 1) + 0.5) },
		"dict":     dict,
		"lines":    func(s string) []string { return strings.Split(s, "\n") },
	}
}

// dict lets a template hand several values to another.
func dict(pairs ...any) (map[string]any, error) {
	out := map[string]any{}
	for i := 0; i+1 < len(pairs); i += 2 {
		key, ok := pairs[i].(string)
		if !ok {
			return nil, fmt.Errorf("dict: key %v is no text", pairs[i])
		}
		out[key] = pairs[i+1]
	}
	return out, nil
}

func (p *pages) render(w io.Writer, name string, data any) error {
	var b bytes.Buffer
	if err := p.byName[name].Execute(&b, data); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// page is what every page is made of.
type page struct {
	Title    string
	Session  guard.Session
	Known    bool // there is a session
	ReadOnly bool
	Card     *job.Card // of the job it belongs to, nil for none
	Practice bool      // the job is a practice job
	Tab      string
	Entry    *job.Event // just entered
	Undoable bool
	Scripts  []string
	Data     any
}

// May says whether the page may offer changes.
func (p page) May() bool { return p.Session.Role == guard.Bench && !p.ReadOnly }

func (b *Bench) page(r *http.Request, title string) page {
	s, known := guard.Of(r)
	return page{Title: title, Session: s, Known: known, ReadOnly: b.ReadOnly || s.Role == guard.Guest}
}

// show renders a page.
func (b *Bench) show(w http.ResponseWriter, name string, p page) error {
	var body bytes.Buffer
	if err := b.pages.render(&body, name, p); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Write(body.Bytes()) // a reader who went away needs no message
	return nil
}

func (b *Bench) static(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("file")
	data, err := staticFiles.ReadFile("static/" + path.Base(name))
	if err != nil {
		return wrong(http.StatusNotFound, "there is no file %q", name)
	}
	w.Header().Set("Content-Type", mime.TypeByExtension(path.Ext(name)))
	if path.Ext(name) == ".js" {
		w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	}
	if r.PathValue("version") == b.pages.version {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	w.Write(data)
	return nil
}
