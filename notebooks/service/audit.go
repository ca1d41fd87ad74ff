package service

import (
	"encoding/json"
	"errors"
	"net/http"
	"os"
	"sync"
	"time"
)

// An auditLine is one change, or one refused try. It says what kind of thing
// was changed and never what is in it.
type auditLine struct {
	At      time.Time `json:"at"`
	Who     string    `json:"who"`
	Role    string    `json:"role"`
	Did     string    `json:"did"`
	What    string    `json:"what,omitempty"`
	Outcome string    `json:"outcome"`
}

// lines appends JSON lines to a file, each in one write.
type lines struct {
	mu   sync.Mutex
	root *os.Root
	name string
}

func (l *lines) add(v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	f, err := l.root.OpenFile(l.name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	was, err := f.Stat()
	if err != nil {
		f.Close()
		return err
	}
	if _, err := f.Write(append(b, '\n')); err != nil { // half a line would spoil the next one
		return errors.Join(err, f.Truncate(was.Size()), f.Close())
	}
	if err := f.Sync(); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// audit notes a change. A change that can't be noted is an error: nothing is
// changed in silence.
func (s *Server) audit(r *http.Request, did, what, outcome string) error {
	v := visitorOf(r)
	return s.auditFile.add(auditLine{s.cfg.Clock().UTC(), v.Name, v.Role.String(), did, what, outcome})
}
