// Package access says who may see and change what: roles and the tokens that give
// them, sessions, and the words that stand for ids in addresses. It knows nothing
// of pages.
//
//  1. [ReadTokens] reads who may come in, each with a [Role]; [CheckTokens] says what is wrong with them.
//  2. [Sessions] gives a browser that showed a token a cookie, and finds the [Visitor] of it.
//  3. [Handles] turn an id into a word for addresses and back, under the key of the book's
//     folder, so that no address names a person.
package access

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
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

// RoleNamed is the role of a name, Nobody where it is none.
func RoleNamed(name string) Role {
	for _, r := range []Role{Reader, Editor} {
		if name == r.String() {
			return r
		}
	}
	return Nobody
}

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

// ReadTokens reads tokens, one a line: NAME ROLE SECRET. Empty lines and those that
// begin with # are passed over.
func ReadTokens(text string) (out []Token, err error) {
	for no, line := range strings.Split(text, "\n") {
		f := strings.Fields(line)
		if len(f) == 0 || strings.HasPrefix(f[0], "#") {
			continue
		}
		if len(f) != 3 || RoleNamed(f[1]) == Nobody {
			return nil, fmt.Errorf("line %d: write NAME ROLE SECRET, the role reader or editor", no+1)
		}
		out = append(out, Token{Name: f[0], Role: RoleNamed(f[1]), Secret: f[2]})
	}
	if len(out) == 0 {
		return nil, errors.New("there is no token in it")
	}
	return out, nil
}

// CheckTokens says what is wrong with tokens.
func CheckTokens(tokens []Token) error {
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

// Local is what a visitor without a token is called.
const Local = "at this machine"

// A Visitor is who asks.
type Visitor struct {
	Name string
	Role Role
}

// idleLimit is how long a session lives unused.
const idleLimit = 8 * time.Hour

// Sessions are kept in memory: a restart asks everyone to enter again.
type Sessions struct {
	mu    sync.Mutex
	by    map[[32]byte]*session
	wrong map[string]guesses // by the address they came from
}

// guesses are wrong tokens from one address. After MostWrong of them each
// further one doubles the wait before the next is looked at.
type guesses struct {
	n    int
	last time.Time
}

// wait is how long after the last guess nothing is looked at.
func (g guesses) wait() time.Duration {
	if g.n < MostWrong {
		return 0
	}
	return min(time.Minute<<min(g.n-MostWrong, 10), longestWait)
}

type session struct {
	Visitor
	used time.Time
}

const (
	MostWrong   = 10 // tokens from one address before it must wait
	longestWait = time.Hour
)

var ErrTooManyWrong = errors.New("too many wrong tokens came from your address; wait before the next")

// Enter opens a session for a token and gives its cookie's value. Wrong tokens
// count against the address they came from alone.
func (ss *Sessions) Enter(tokens []Token, secret, from string, now time.Time) (string, error) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	for addr, g := range ss.wrong {
		if now.Sub(g.last) > max(2*g.wait(), time.Minute) {
			delete(ss.wrong, addr)
		}
	}
	if g := ss.wrong[from]; now.Sub(g.last) < g.wait() {
		return "", ErrTooManyWrong
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
	ss.by[sha256.Sum256([]byte(value))] = &session{Visitor{found.Name, found.Role}, now}
	return value, nil
}

// Find is the visitor of a cookie's value.
func (ss *Sessions) Find(value string, now time.Time) (Visitor, bool) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	got, ok := ss.by[sha256.Sum256([]byte(value))]
	if !ok || now.Sub(got.used) > idleLimit {
		return Visitor{}, false
	}
	got.used = now
	return got.Visitor, true
}

// Leave ends the session of a cookie's value.
func (ss *Sessions) Leave(value string) {
	ss.mu.Lock()
	defer ss.mu.Unlock()
	delete(ss.by, sha256.Sum256([]byte(value)))
}
