package service

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// mostFiles is how many sheets are taken in one upload.
const mostFiles = 32

type sheetsPage struct {
	Editor bool
	Exists bool
}

func (s *Server) sheets(w http.ResponseWriter, r *http.Request) error {
	s.render(w, r, http.StatusOK, "sheets", "Order sheets", sheetsPage{visitorOf(r).Role == Editor, s.cfg.Workshop.Exists()})
	return nil
}

// load takes sheets into a folder of their own and loads them as the command
// line does. The folder is removed after.
func (s *Server) load(w http.ResponseWriter, r *http.Request) error {
	dir := "incoming/" + rand.Text()
	if err := s.root.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	n, err := s.receive(r, dir)
	if err == nil && n == 0 {
		err = badRequest("Choose at least one order sheet.")
	}
	if err == nil {
		err = s.audit(r, "load sheets", fmt.Sprintf("%d files", n), "begun")
	}
	if err != nil {
		return errors.Join(err, s.root.RemoveAll(dir))
	}
	return s.begin(w, r, &job{Title: "Loading order sheets", Back: "/sheets"}, func(ctx context.Context, j *job) (string, error) {
		defer s.root.RemoveAll(dir)
		res, err := s.cfg.Workshop.Load(ctx, filepath.Join(s.cfg.Dir, filepath.FromSlash(dir)))
		if err != nil {
			return "", &problem{http.StatusUnprocessableEntity, upper(err.Error()) + ".", err}
		}
		j.mu.Lock()
		j.loaded = res
		j.mu.Unlock()
		return "/job/" + j.ID + "/loaded", nil
	})
}

// sheetKinds are the kinds of file an upload takes.
var sheetKinds = []string{".csv", ".xlsx", ".parquet", ".yaml", ".yml"}

// receive writes the files of an upload into the folder, under their own base
// names.
func (s *Server) receive(r *http.Request, dir string) (int, error) {
	mr, err := r.MultipartReader()
	if err != nil {
		return 0, badRequest("The upload could not be read.")
	}
	for n := 0; ; {
		part, err := mr.NextPart()
		if err == io.EOF {
			return n, nil
		}
		if err != nil {
			return n, readProblem(err)
		}
		if part.FormName() != "sheets" || part.FileName() == "" {
			continue
		}
		if n++; n > mostFiles {
			return n, badRequest(fmt.Sprintf("At most %d sheets are taken at once.", mostFiles))
		}
		if err := s.receiveOne(part, dir); err != nil {
			return n, err
		}
	}
}

func (s *Server) receiveOne(part *multipart.Part, dir string) error {
	// The base name of the sender's file, whatever its machine's separator.
	name := part.FileName()[strings.LastIndexAny(part.FileName(), `/\`)+1:]
	if !filepath.IsLocal(name) || strings.HasPrefix(name, ".") || strings.ContainsFunc(name, func(r rune) bool { return r < ' ' }) || len(name) > 120 {
		return badRequest("A sheet has a name that can't be taken; name it after its table, as orders.csv.")
	}
	if !slices.Contains(sheetKinds, strings.ToLower(filepath.Ext(name))) {
		return badRequest("Only CSV, XLSX and Parquet sheets are taken (and a mapping file); “" + name + "” is something else.")
	}
	f, err := s.root.OpenFile(dir+"/"+name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return badRequest("Two of the sheets have the same name.")
	}
	_, err = io.Copy(f, part)
	if cerr := f.Close(); err == nil {
		return cerr
	}
	return readProblem(err)
}

func readProblem(err error) error {
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return err
	}
	return &problem{http.StatusBadRequest, "The upload broke off.", err}
}

type loadedPage struct {
	Body    rendered
	Rejects int
	Job     string
}

// loadedJob is a load that has ended.
func (s *Server) loadedJob(r *http.Request) (*job, *LoadResult, error) {
	j, err := s.jobs.find(r.PathValue("job"))
	if err != nil {
		return nil, nil, err
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.loaded == nil {
		return nil, nil, notFound("That load has not ended.")
	}
	return j, j.loaded, nil
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
