package service

import (
	"bytes"
	"net/http"
	"strconv"
	"strings"

	"golang.org/x/text/language"

	"lastroom/analysis/form"
	"lastroom/notebooks/service/help"
	"lastroom/reports/translation"
)

// languageCookie keeps the language that a visitor chose.
const languageCookie = "lastroom-language"

var tongueMatcher = func() language.Matcher {
	var tags []language.Tag
	for _, t := range translation.Tongues {
		tags = append(tags, language.Make(t.Tag))
	}
	return language.NewMatcher(tags)
}()

// tongueOf is the language of a visitor's pages: the one that was chosen, or that of the
// service, or that of the browser.
func (s *Server) tongueOf(r *http.Request) string {
	if c, err := r.Cookie(languageCookie); err == nil {
		for _, t := range translation.Tongues {
			if t.Tag == c.Value {
				return t.Tag
			}
		}
	}
	if s.cfg.Language != "" {
		return s.cfg.Language
	}
	wanted, _, err := language.ParseAcceptLanguage(r.Header.Get("Accept-Language"))
	if err != nil {
		return translation.English
	}
	_, i, sure := tongueMatcher.Match(wanted...)
	if sure == language.No {
		return translation.English
	}
	return translation.Tongues[i].Tag
}

// otherTongues are those that a visitor may go over to.
func (s *Server) otherTongues(r *http.Request) []translation.Tongue {
	var out []translation.Tongue
	here := s.tongueOf(r)
	for _, t := range translation.Tongues {
		if t.Tag != here {
			out = append(out, t)
		}
	}
	return out
}

// chooseTongue keeps the language that a visitor chose, and shows the page again that the
// choice was made on.
func (s *Server) chooseTongue(w http.ResponseWriter, r *http.Request) error {
	tag := r.PostFormValue("tag")
	if _, err := translation.Of(tag); err != nil {
		return badRequest(form.Capitalised(err.Error()) + ".")
	}
	http.SetCookie(w, &http.Cookie{Name: languageCookie, Value: tag, Path: "/", MaxAge: 400 * 24 * 3600, HttpOnly: true, Secure: s.cfg.TLS, SameSite: http.SameSiteStrictMode})
	back := r.PostFormValue("back")
	if !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.Contains(back, `\`) {
		back = "/"
	}
	http.Redirect(w, r, back, http.StatusSeeOther)
	return nil
}

// said sends pages, and what they ask for in JSON, in the visitor's language.
func (s *Server) said(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		l, err := translation.Of(s.tongueOf(r))
		if err != nil {
			s.cfg.Log.Error("pages stay English", "error", err)
		}
		if l == nil {
			next.ServeHTTP(w, r)
			return
		}
		told := &teller{ResponseWriter: w, language: l}
		next.ServeHTTP(told, r)
		told.end()
	})
}

// A teller holds an answer that has words in it back until it is whole, and says it.
type teller struct {
	http.ResponseWriter
	language *translation.Language
	status   int
	say      func([]byte) []byte // nil: the answer goes out as it comes
	held     bytes.Buffer
}

func (t *teller) WriteHeader(status int) {
	if t.status != 0 {
		return
	}
	t.status = status
	switch kind, _, _ := strings.Cut(t.Header().Get("Content-Type"), ";"); kind {
	case "text/html":
		t.say = func(page []byte) []byte { said, _ := help.Said(page, t.language); return said }
	case "application/json":
		t.say = t.language.JSON
	default:
		t.ResponseWriter.WriteHeader(status)
	}
}

func (t *teller) Write(b []byte) (int, error) {
	if t.status == 0 {
		t.WriteHeader(http.StatusOK)
	}
	if t.say != nil {
		return t.held.Write(b)
	}
	return t.ResponseWriter.Write(b)
}

func (t *teller) end() {
	if t.say == nil {
		return
	}
	out := t.say(t.held.Bytes())
	if t.held.Len() > 0 {
		t.Header().Set("Content-Length", strconv.Itoa(len(out)))
	}
	t.ResponseWriter.WriteHeader(t.status)
	_, _ = t.ResponseWriter.Write(out)
}
