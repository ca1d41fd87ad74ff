package service

import (
	"io/fs"
	"net/http"
	"slices"
	"strings"

	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/finding"
	"lastroom/notebooks/service/formdesk"
	"lastroom/notebooks/service/front"
	"lastroom/notebooks/service/help"
	"lastroom/notebooks/service/topic"
	"lastroom/notebooks/service/training"
	"lastroom/reports/page"
)

// The pages that take large bodies: order sheets, and spreadsheets of the shop's
// own, to which more may be added.
const (
	uploadPath       = "/sheets/load"
	spreadsheetsPath = "/spreadsheets"
)

// routes is the whole table of pages. Only POST changes anything; each POST
// that changes the book, a notebook or a ledger is for editors.
func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	s.patterns = map[string]bool{}
	for _, r := range s.table() {
		s.patterns[r.Pattern] = true
		mux.Handle(r.Pattern, s.page(r.Role, r.Handler))
	}
	return mux
}

type route topic.Route

func (s *Server) table() []route {
	table := []route{
		{"GET /static/{file}", access.Nobody, s.static},
		{"GET /enter", access.Nobody, s.enterForm},
		{"POST /enter", access.Nobody, s.enter},
		{"POST /leave", access.Reader, s.leave},
		{"POST /language", access.Nobody, s.chooseTongue},

		{"GET /review", access.Reader, s.review},
		{"GET /notebooks", access.Reader, s.notebooks},
		{"GET /help/notebooks", access.Reader, s.notation},
		{"GET /notebook/{name}", access.Reader, s.notebook},
		{"POST /notebook/{name}/run", access.Reader, s.start},
		{"GET /job/{job}", access.Reader, s.job},
		{"GET /job/{job}/state", access.Reader, s.jobState},
		{"POST /job/{job}/stop", access.Reader, s.stopJob},

		{"GET /runs", access.Reader, s.runs},
		{"GET /run/{run}", access.Reader, s.run},
		{"GET /run/{run}/behind/{ref}", access.Reader, s.behind},
		{"GET /run/{run}/page.html", access.Reader, s.runPage},
		{"GET /run/{run}/notebook.ipynb", access.Reader, s.runFile("notebook.ipynb", "application/x-ipynb+json")},
		{"GET /run/{run}/notebook.md", access.Reader, s.runFile("notebook.md", "text/plain; charset=utf-8")},
		{"GET /run/{run}/tables/{table}", access.Reader, s.runTable},
		{"GET /compare", access.Reader, s.compare},

		{"GET /order/{order}", access.Reader, s.order},
		{"GET /form/{form}", access.Reader, s.form},

		{"GET /edit/{name}", access.Reader, s.edit},
		{"GET /edit", access.Editor, s.editNew},
		{"POST /edit/{name}", access.Editor, s.save},

		{"GET /sheets", access.Reader, s.sheets},
		{"GET /job/{job}/loaded", access.Reader, s.loaded},
		{"GET /job/{job}/rejects.csv", access.Reader, s.rejects},
		{"POST " + uploadPath, access.Editor, s.load},
		{"POST " + spreadsheetsPath, access.Editor, s.spreadsheets},
		{"GET /spreadsheets/{upload}", access.Editor, s.sketch},
		{"POST /spreadsheets/{upload}", access.Editor, s.choose},
		{"POST /spreadsheets/{upload}/files", access.Editor, s.moreSpreadsheets},
		{"GET /spreadsheets/{upload}/tried", access.Editor, s.tried},
		{"GET /spreadsheets/{upload}/mapping.yaml", access.Editor, s.mapping},
		{"POST /spreadsheets/{upload}/load", access.Editor, s.loadSpreadsheets},
		{"POST /spreadsheets/{upload}/drop", access.Editor, s.dropSpreadsheets},
		{"GET /layouts/{layout}/mapping.yaml", access.Reader, s.layoutMapping},
		{"POST /layouts/{layout}/drop", access.Editor, s.dropLayout},
		{"POST /demo", access.Editor, s.demo},

		{"/", access.Reader, func(http.ResponseWriter, *http.Request) error { return notFound("There is no such page.") }},
	}
	for _, r := range (&help.Pages{Host: host{s}}).Routes() {
		table = append(table, route(r))
	}
	for _, r := range (&front.Pages{Host: host{s}, Book: frontBook{host{s}}}).Routes() {
		table = append(table, route(r))
	}
	for _, r := range slices.Concat(training.New(host{s}, host{s}).Routes(), s.rulebook().Routes(), s.people().Routes()) {
		table = append(table, route(r))
	}
	for _, r := range (&finding.Pages{Host: host{s}, Shop: finder{host{s}, s.cfg.Workshop}}).Routes() {
		table = append(table, route(r))
	}
	if s.cfg.Desk != nil {
		for _, r := range (&formdesk.Pages{Host: host{s}, Shop: host{s}, Desk: s.cfg.Desk}).Routes() {
			table = append(table, route(r))
		}
	}
	if s.cfg.End != nil {
		table = append(table, route{"POST /end", access.Editor, s.end})
	}
	return table
}

// static serves the style sheet and the script.
func (s *Server) static(w http.ResponseWriter, r *http.Request) error {
	name := r.PathValue("file")
	var body []byte
	if name == "style.css" {
		body = []byte(page.Style())
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
	} else {
		var err error
		if body, err = fs.ReadFile(staticFiles, "static/"+name); err != nil {
			return notFound("There is no such file.")
		}
		w.Header().Set("Content-Type", map[string]string{"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}[name[strings.LastIndexByte(name, '.')+1:]]+"; charset=utf-8")
	}
	w.Header().Set("Cache-Control", "no-cache")
	_, err := w.Write(body)
	return err
}
