package service

import (
	"io/fs"
	"net/http"
	"strings"

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
	for _, r := range s.table() {
		mux.Handle(r.pattern, s.page(r.role, r.handler))
	}
	return mux
}

type route struct {
	pattern string
	role    Role
	handler handler
}

func (s *Server) table() []route {
	table := []route{
		{"GET /static/{file}", Nobody, s.static},
		{"GET /enter", Nobody, s.enterForm},
		{"POST /enter", Nobody, s.enter},
		{"POST /leave", Reader, s.leave},

		{"GET /{$}", Reader, s.home},
		{"GET /help", Reader, s.help},
		{"GET /notebook/{name}", Reader, s.notebook},
		{"POST /notebook/{name}/run", Reader, s.start},
		{"GET /job/{job}", Reader, s.job},
		{"GET /job/{job}/state", Reader, s.jobState},
		{"POST /job/{job}/stop", Reader, s.stopJob},

		{"GET /runs", Reader, s.runs},
		{"GET /run/{run}", Reader, s.run},
		{"GET /run/{run}/behind/{ref}", Reader, s.behind},
		{"GET /run/{run}/page.html", Reader, s.runPage},
		{"GET /run/{run}/notebook.ipynb", Reader, s.runFile("notebook.ipynb", "application/x-ipynb+json")},
		{"GET /run/{run}/notebook.md", Reader, s.runFile("notebook.md", "text/plain; charset=utf-8")},
		{"GET /run/{run}/tables/{table}", Reader, s.runTable},
		{"GET /compare", Reader, s.compare},

		{"GET /order/{order}", Reader, s.order},
		{"GET /form/{form}", Reader, s.form},
		{"POST /find", Reader, s.find},
		{"GET /practice", Reader, s.practice},
		{"POST /practice", Reader, s.practised},

		{"GET /edit/{name}", Reader, s.edit},
		{"GET /edit", Editor, s.editNew},
		{"POST /edit/{name}", Editor, s.save},

		{"GET /rules", Reader, s.rules},
		{"GET /decisions", Reader, s.decisions},
		{"POST /decisions", Editor, s.decide},

		{"GET /sheets", Reader, s.sheets},
		{"GET /job/{job}/loaded", Reader, s.loaded},
		{"GET /job/{job}/rejects.csv", Reader, s.rejects},
		{"POST " + uploadPath, Editor, s.load},
		{"POST " + spreadsheetsPath, Editor, s.spreadsheets},
		{"GET /spreadsheets/{upload}", Editor, s.sketch},
		{"POST /spreadsheets/{upload}", Editor, s.choose},
		{"POST /spreadsheets/{upload}/files", Editor, s.moreSpreadsheets},
		{"GET /spreadsheets/{upload}/tried", Editor, s.tried},
		{"GET /spreadsheets/{upload}/mapping.yaml", Editor, s.mapping},
		{"POST /spreadsheets/{upload}/load", Editor, s.loadSpreadsheets},
		{"POST /spreadsheets/{upload}/drop", Editor, s.dropSpreadsheets},
		{"GET /layouts/{layout}/mapping.yaml", Reader, s.layoutMapping},
		{"POST /layouts/{layout}/drop", Editor, s.dropLayout},
		{"POST /demo", Editor, s.demo},

		{"/", Reader, func(http.ResponseWriter, *http.Request) error { return notFound("There is no such page.") }},
	}
	if s.cfg.Desk != nil {
		table = append(table,
			route{"GET /desk", Reader, s.desk},
			route{"POST /desk", Reader, s.deskCheck},
			route{"POST /desk/doubts", Reader, s.deskDoubts},
			route{"POST /desk/letter", Reader, s.deskLetter},
		)
	}
	if s.cfg.End != nil {
		table = append(table, route{"POST /end", Editor, s.end})
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
