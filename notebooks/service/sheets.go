package service

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"lastroom/analysis/form"
	"lastroom/notebooks/service/access"
	"lastroom/notebooks/service/jobs"
	"lastroom/notebooks/service/uploads"
)

type sheetsPage struct {
	Editor       bool
	Taken, Kinds string // kinds of file: of order sheets, of spreadsheets
	Layouts      []uploads.Layout
}

func (s *Server) sheets(w http.ResponseWriter, r *http.Request) error {
	layouts, err := s.uploads.Layouts()
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "sheets", "Order sheets", sheetsPage{visitorOf(r).Role == access.Editor, strings.Join(s.sheetKinds(), ","), uploads.Kinds(), layouts})
	return nil
}

// load takes sheets into a folder of their own and loads them as the command
// line does. The folder is removed after.
func (s *Server) load(w http.ResponseWriter, r *http.Request) error {
	dir := "incoming/" + rand.Text()
	if err := s.root.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	n := 0
	_, err := receive(r, func(name string, from io.Reader) error {
		if n++; n > uploads.MostFiles {
			return badRequest(fmt.Sprintf("At most %d sheets are taken at once.", uploads.MostFiles))
		}
		return s.receiveOne(name, from, dir)
	})
	if err == nil && n == 0 {
		err = badRequest("Choose at least one order sheet.")
	}
	if err == nil {
		err = s.audit(r, "load sheets", fmt.Sprintf("%d files", n), "begun")
	}
	if err != nil {
		return errors.Join(err, s.root.RemoveAll(dir))
	}
	return s.begin(w, r, &jobs.Job{Title: "Loading order sheets", Back: "/sheets"}, func(ctx context.Context, j *jobs.Job) (string, error) {
		defer s.root.RemoveAll(dir)
		next, _, err := s.loadIn(ctx, j, Incoming{Dir: s.path(dir)})
		return next, err
	})
}

// loadIn loads sheets for a job, and gives the page that shows what came of it; nothing
// says that no row is in the book.
func (s *Server) loadIn(ctx context.Context, j *jobs.Job, in Incoming) (next string, nothing bool, err error) {
	res, err := s.cfg.Workshop.Load(ctx, in, j.SayStep)
	if err != nil {
		return "", true, newProblem(http.StatusUnprocessableEntity, form.Capitalised(err.Error())+".", err)
	}
	j.Keep(res)
	return "/job/" + j.ID + "/loaded", res.Nothing, nil
}

// path is a place within the service's folder as the file system knows it.
func (s *Server) path(dir string) string { return filepath.Join(s.cfg.Dir, filepath.FromSlash(dir)) }

// receive reads an upload part by part. take gets each file under the name that
// the sender has for it, folders included; what else the form says is returned.
func receive(r *http.Request, take func(name string, from io.Reader) error) (url.Values, error) {
	mr, err := r.MultipartReader()
	if err != nil {
		return nil, badRequest("The upload could not be read.")
	}
	said := url.Values{}
	for {
		part, err := mr.NextPart()
		if err == io.EOF {
			return said, nil
		}
		if err != nil {
			return said, readProblem(err)
		}
		_, with, err := mime.ParseMediaType(part.Header.Get("Content-Disposition"))
		if err != nil {
			return said, badRequest("The upload could not be read.")
		}
		switch name, file := with["filename"]; {
		case file && name == "": // a field of files that was left empty
		case file:
			if err := take(name, part); err != nil {
				return said, readProblem(err)
			}
		default:
			text, err := io.ReadAll(io.LimitReader(part, 1000))
			if err != nil {
				return said, readProblem(err)
			}
			said.Add(part.FormName(), string(text))
		}
	}
}

// sheetKinds are the kinds of file an upload of order sheets takes.
func (s *Server) sheetKinds() []string {
	return append(slices.Clone(s.cfg.SheetKinds), ".yaml", ".yml")
}

// receiveOne writes a file of an upload into the folder, under its own base name.
func (s *Server) receiveOne(name string, from io.Reader, dir string) error {
	// The base name of the sender's file, whatever its machine's separator.
	name = name[strings.LastIndexAny(name, `/\`)+1:]
	if !filepath.IsLocal(name) || strings.HasPrefix(name, ".") || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) || len(name) > 120 {
		return badRequest("A sheet has a name that can't be taken; name it after its table, as orders.csv.")
	}
	if !slices.Contains(s.sheetKinds(), strings.ToLower(filepath.Ext(name))) {
		return badRequest("Only CSV, XLSX, ODS and Parquet sheets are taken (and a mapping file); “" + name + "” is something else.")
	}
	f, err := s.root.OpenFile(dir+"/"+name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return badRequest("Two of the sheets have the same name.")
	}
	if err != nil {
		return err
	}
	_, err = io.Copy(f, from)
	return errors.Join(err, f.Close())
}

// readProblem is why an upload could not be taken.
func readProblem(err error) error {
	var big *http.MaxBytesError
	var p *problem
	var no *uploads.Refused
	var file *fs.PathError // of ours, as on a full disk
	switch {
	case errors.As(err, &big), errors.As(err, &p), errors.As(err, &file):
		return err
	case errors.As(err, &no):
		return badRequest(no.Words)
	}
	return newProblem(http.StatusBadRequest, "The upload broke off.", err)
}

type loadedPage struct {
	Body    rendered
	Rejects int
	Job     string
}

// loadedJob is a load that has ended.
func (s *Server) loadedJob(r *http.Request) (*jobs.Job, *LoadResult, error) {
	j, err := s.jobs.Find(r.PathValue("job"))
	if err != nil {
		return nil, nil, err
	}
	res, ok := j.Kept().(*LoadResult)
	if !ok {
		return nil, nil, notFound("That load has not ended.")
	}
	return j, res, nil
}

func (s *Server) loaded(w http.ResponseWriter, r *http.Request) error {
	j, res, err := s.loadedJob(r)
	if err != nil {
		return err
	}
	body, err := bodyOf(res.Report, s.linkIn(""))
	if err != nil {
		return err
	}
	s.render(w, r, http.StatusOK, "loaded", "What was loaded", loadedPage{body, res.KeptOut, j.ID})
	return nil
}

func (s *Server) rejects(w http.ResponseWriter, r *http.Request) error {
	_, res, err := s.loadedJob(r)
	if err != nil {
		return err
	}
	return download(w, "text/csv; charset=utf-8", "rejects.csv", res.Rejects)
}
