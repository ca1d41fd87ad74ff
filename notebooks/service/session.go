package service

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"
)

// A Role is what somebody may do.
type Role uint8

// Readers look and run; editors change notebooks, decisions and the book too.
const (
	Nobody Role = iota
	Reader
	Editor
)

func (r Role) String() string { return [...]string{"nobody", "reader", "editor"}[min(r, Editor)] }

// A Token opens the service from another machine.
type Token struct {
	Name   string // who holds it; stands in the audit file
	Role   Role
	Secret string
}

// minSecret is the length of the shortest token taken, in characters.
const minSecret = 20

// NewToken makes a token with a fresh secret of 26 characters, 128 bits.
func NewToken(name string, role Role) Token { return Token{name, role, rand.Text()} }

func checkTokens(tokens []Token) error {
	for _, t := range tokens {
		if len(t.Secret) < minSecret {
			return fmt.Errorf("the token of %q is shorter than %d characters", t.Name, minSecret)
		}
		if t.Role != Reader && t.Role != Editor {
			return fmt.Errorf("the token of %q has no role; it is reader or editor", t.Name)
		}
	}
	return nil
}

// A visitor is who asks.
type visitor struct {
	Name string
	Role Role
}

type visitorKey struct{}

func visitorOf(r *http.Request) visitor {
	v, _ := r.Context().Value(visitorKey{}).(visitor)
	return v
}

// idleLimit is how long a session lives unused.
const idleLimit = 8 * time.Hour

// sessions are kept in memory: a restart asks everyone to enter again.
type sessions struct {
	mu    sync.Mutex
	by    map[[32]byte]*session
	wrong map[string]guesses // by the address they came from
}

// guesses are wrong tokens from one address. After mostWrong of them each
// further one doubles the wait before the next is looked at.
type guesses struct {
	n    int
	last time.Time
}

// wait is how long after the last guess nothing is looked at.
func (g guesses) wait() time.Duration {
	if g.n < mostWrong {
		return 0
	}
	return min(time.Minute<<min(g.n-mostWrong, 10), longestWait)
}

type session struct {
	visitor
	used time.Time
}

const (
	mostWrong   = 10 // tokens from one address before it must wait
	longestWait = time.Hour
)

var errTooManyWrong = errors.New("too many wrong tokens came from your address; wait before the next")

// enter opens a session for a token and gives its cookie's value. Wrong tokens
// count against the address they came from alone.
func (ss *sessions) enter(tokens []Token, secret, from string, now time.Time) (string, error) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	for addr, g := range ss.wrong {
		if now.Sub(g.last) > max(2*g.wait(), time.Minute) {
			delete(ss.wrong, addr)
		}
	}
	if g := ss.wrong[from]; now.Sub(g.last) < g.wait() {
		return "", errTooManyWrong
	}
	given := sha256.Sum256([]byte(secret))
	var found *Token
	for i := range tokens {
		want := sha256.Sum256([]byte(tokens[i].Secret))
		if subtle.ConstantTimeCompare(given[:], want[:]) == 1 {
			found = &tokens[i]
		}
	}
	if found == nil {
		if ss.wrong == nil {
			ss.wrong = map[string]guesses{}
		}
		ss.wrong[from] = guesses{ss.wrong[from].n + 1, now}
		return "", errors.New("that token is not known here")
	}
	value := rand.Text()
	if ss.by == nil {
		ss.by = map[[32]byte]*session{}
	}
	for k, old := range ss.by {
		if now.Sub(old.used) > idleLimit {
			delete(ss.by, k)
		}
	}
	ss.by[sha256.Sum256([]byte(value))] = &session{visitor{found.Name, found.Role}, now}
	return value, nil
}

// find is the visitor of a cookie's value.
func (ss *sessions) find(value string, now time.Time) (visitor, bool) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	got, ok := ss.by[sha256.Sum256([]byte(value))]
	if !ok || now.Sub(got.used) > idleLimit {
		return visitor{}, false
	}
	got.used = now
	return got.visitor, true
}

func (ss *sessions) leave(value string) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	delete(ss.by, sha256.Sum256([]byte(value)))
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
		v := visitor{"at this machine", Editor}
		if len(s.cfg.Tokens) > 0 {
			v = visitor{}
			if c, err := r.Cookie(s.cookieName()); err == nil {
				v, _ = s.sessions.find(c.Value, s.cfg.Clock())
			}
			if v.Role == Nobody && r.URL.Path != "/enter" && !strings.HasPrefix(r.URL.Path, "/static/") {
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
	if len(s.cfg.Tokens) == 0 || visitorOf(r).Role != Nobody {
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
	value, err := s.sessions.enter(s.cfg.Tokens, r.PostFormValue("token"), from, s.cfg.Clock())
	if err != nil {
		status := http.StatusUnauthorized
		if errors.Is(err, errTooManyWrong) {
			status = http.StatusTooManyRequests
		}
		s.showEnter(w, r, status, upper(err.Error())+".")
		return nil
	}
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Value: value, Path: "/", HttpOnly: true, Secure: s.cfg.TLS, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (s *Server) leave(w http.ResponseWriter, r *http.Request) error {
	if c, err := r.Cookie(s.cookieName()); err == nil {
		s.sessions.leave(c.Value)
	}
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Path: "/", MaxAge: -1, HttpOnly: true, Secure: s.cfg.TLS, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/enter", http.StatusSeeOther)
	return nil
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
