package service

import (
	"context"
	"errors"
	"net"
	"net/http"
	"strings"

	"lastroom/analysis/form"
	"lastroom/notebooks/service/access"
)

type visitorKey struct{}

func visitorOf(r *http.Request) access.Visitor {
	v, _ := r.Context().Value(visitorKey{}).(access.Visitor)
	return v
}

func (s *Server) cookieName() string {
	if s.cfg.TLS {
		return "__Host-lastroom"
	}
	return "lastroom"
}

// entered finds out who asks. Without tokens (on the loopback address) it is
// the person at the machine.
func (s *Server) entered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := access.Visitor{Name: access.Local, Role: access.Editor}
		if len(s.cfg.Tokens) > 0 {
			v = access.Visitor{}
			if c, err := r.Cookie(s.cookieName()); err == nil {
				v, _ = s.sessions.Find(c.Value, s.cfg.Clock())
			}
			if v.Role == access.Nobody && r.URL.Path != "/enter" && !strings.HasPrefix(r.URL.Path, "/static/") {
				s.showEnter(w, r, http.StatusUnauthorized, "")
				return
			}
		}
		next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), visitorKey{}, v)))
	})
}

type enterPage struct{ Problem string }

func (s *Server) showEnter(w http.ResponseWriter, r *http.Request, status int, why string) {
	s.render(w, r, status, "enter", "Enter", enterPage{why})
}

func (s *Server) enterForm(w http.ResponseWriter, r *http.Request) error {
	if len(s.cfg.Tokens) == 0 || visitorOf(r).Role != access.Nobody {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	s.showEnter(w, r, http.StatusOK, "")
	return nil
}

func (s *Server) enter(w http.ResponseWriter, r *http.Request) error {
	from, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		from = r.RemoteAddr
	}
	value, err := s.sessions.Enter(s.cfg.Tokens, r.PostFormValue("token"), from, s.cfg.Clock())
	if err != nil {
		status := http.StatusUnauthorized
		if errors.Is(err, access.ErrTooManyWrong) {
			status = http.StatusTooManyRequests
		}
		s.showEnter(w, r, status, form.Capitalised(err.Error())+".")
		return nil
	}
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Value: value, Path: "/", HttpOnly: true, Secure: s.cfg.TLS, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (s *Server) leave(w http.ResponseWriter, r *http.Request) error {
	if c, err := r.Cookie(s.cookieName()); err == nil {
		s.sessions.Leave(c.Value)
	}
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Path: "/", MaxAge: -1, HttpOnly: true, Secure: s.cfg.TLS, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/enter", http.StatusSeeOther)
	return nil
}
