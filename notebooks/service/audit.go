package service

import (
	"encoding/json"
	"net/http"
	"os"
	"time"

	"lastroom/notebooks/journal"
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

// audit notes a change. A change that can't be noted is an error: nothing is
// changed in silence.
func (s *Server) audit(r *http.Request, did, what, outcome string) error {
	v := visitorOf(r)
	line, err := json.Marshal(auditLine{s.cfg.Clock().UTC(), v.Name, v.Role.String(), did, what, outcome})
	if err != nil {
		return err
	}
	s.auditing.Lock()
	defer s.auditing.Unlock()
	return journal.Append(s.root, "audit.jsonl", os.O_CREATE, append(line, '\n'), json.Valid)
}
