package keyed

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"lastroom/analysis/cohort"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/durable"
)

// A Store is the folder of records beside a book. It may be used by several
// goroutines and programs.
type Store struct{ Files bookfile.Files }

var (
	// ErrNone is the error of an order of which the desk keeps nothing.
	ErrNone = errors.New("nothing is kept at the desk of that order")
	// ErrChanged is the error of a record that somebody else has changed meanwhile.
	ErrChanged = errors.New("somebody else has changed it meanwhile")
	// ErrTaken is wrapped by the error of a form whose id is another's.
	ErrTaken = errors.New("the form's number is taken")
	// ErrDamaged is wrapped by the error of a record that is not as it was written.
	ErrDamaged = errors.New("what the desk kept is damaged")
)

func (s Store) dir() string    { return s.Files.Keyed() }
func (s Store) closed() string { return filepath.Join(s.dir(), "closed") }

// name is the name of an order's file, which tells nothing of the order.
func name(order string) string {
	sum := sha256.Sum256([]byte(order))
	return hex.EncodeToString(sum[:12]) + ".json"
}

// Get gives the record of an order, open or closed, or ErrNone.
func (s Store) Get(order string) (*Record, error) {
	for _, dir := range []string{s.dir(), s.closed()} {
		r, err := read(filepath.Join(dir, name(order)))
		if !errors.Is(err, fs.ErrNotExist) {
			return r, err
		}
	}
	return nil, ErrNone
}

// Open gives the records that are not closed, or have rows that wait, by the day on
// which their last form was typed in.
func (s Store) Open() ([]*Record, error) {
	list, err := readAll(s.dir())
	slices.SortFunc(list, func(a, b *Record) int { return a.Last().At.Compare(b.Last().At) })
	return list, err
}

// ofForm gives the record that holds a form of that id, or ErrNone. Of closed ones
// it knows nothing: their forms are in the book.
func (s Store) ofForm(id string) (*Record, error) {
	list, err := readAll(s.dir())
	for _, r := range list {
		if _, ok := r.Form(id); ok {
			return r, nil
		}
	}
	if err == nil {
		err = ErrNone
	}
	return nil, err
}

// readAll reads the records of a folder. One that is damaged is an error beside the
// others.
func readAll(dir string) (list []*Record, err error) {
	entries, failed := os.ReadDir(dir)
	if errors.Is(failed, fs.ErrNotExist) {
		return nil, nil
	}
	if failed != nil {
		return nil, failed
	}
	for _, e := range entries {
		if e.IsDir() || filepath.Ext(e.Name()) != ".json" {
			continue
		}
		r, failed := read(filepath.Join(dir, e.Name()))
		switch {
		case failed == nil:
			list = append(list, r)
		case !errors.Is(failed, fs.ErrNotExist): // closed or forgotten in this moment
			err = errors.Join(err, failed)
		}
	}
	return list, err
}

// read reads a record, which stands in its file behind its own hash.
func read(path string) (*Record, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	sum, body, _ := bytes.Cut(text, []byte("\n"))
	var r Record
	if string(sum) != hash(body) || json.Unmarshal(body, &r) != nil || len(r.Forms) == 0 {
		return nil, fmt.Errorf("%w: %s; put it there again from a backup, or remove it and type the form in again", ErrDamaged, path)
	}
	return &r, nil
}

func hash(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Change has do change the record of an order that was seen at version seen, 0 for
// one that is not there yet, and keeps it: it is durable when Change has answered.
// Where another version is there now, that one is given back with ErrChanged; a form
// whose id another record holds is ErrTaken. With any error nothing is kept.
func (s Store) Change(order string, seen int, do func(*Record) error) (*Record, error) {
	unlock, err := s.lock("lock")
	if err != nil {
		return nil, err
	}
	defer unlock()
	r, err := s.Get(order)
	if errors.Is(err, ErrNone) {
		r, err = &Record{OrderID: order, Order: map[string]string{}, ClosedOn: cohort.NoDay}, nil
	}
	if err != nil {
		return nil, err
	}
	if r.Version != seen {
		return r, ErrChanged
	}
	if err := do(r); err != nil {
		return nil, err
	}
	for _, f := range r.Forms {
		other, err := s.ofForm(f.ID)
		if err == nil && other.OrderID != order {
			return nil, fmt.Errorf("%w: the desk keeps a form %s already, of order %s, typed in by %s", ErrTaken, f.ID, other.OrderID, other.Last().By)
		}
	}
	r.Version++
	return r, s.write(r)
}

// write puts a record where it belongs. Of what is closed nothing has to be found
// again until it is asked for by its order.
func (s Store) write(r *Record) error {
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	to, other := s.dir(), s.closed()
	if r.Closed != Open && len(r.Waiting) == 0 {
		to, other = other, to
	}
	if err := os.MkdirAll(to, 0o700); err != nil {
		return err
	}
	if err := durable.Sweep(filepath.Join(s.dir(), "new", "*")); err != nil {
		return err
	}
	err = durable.Replace(filepath.Join(to, name(r.OrderID)), filepath.Join(s.dir(), "new"), func(f *os.File) error {
		_, err := f.WriteString(hash(body) + "\n" + string(body))
		return err
	})
	if err != nil {
		return err
	}
	// The names of the folders themselves, for the first record.
	return errors.Join(durable.Remove(filepath.Join(other, name(r.OrderID))), durable.SyncFolder(s.dir()), durable.SyncFolder(s.Files.Dir))
}

// patience is how long a lock is waited for that another holds for one write.
const patience = 5 * time.Second

// lock takes a lock of the store, which the system drops when the program ends.
func (s Store) lock(what string) (unlock func(), err error) {
	if err := os.MkdirAll(s.dir(), 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(filepath.Join(s.dir(), what), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	for waited := time.Duration(0); ; waited += 5 * time.Millisecond {
		held, err := durable.Lock(f)
		if err != nil {
			return nil, errors.Join(err, f.Close())
		}
		if !held {
			return func() { f.Close() }, nil
		}
		if what == loading || waited > patience {
			return nil, errors.Join(fmt.Errorf("%w: what was typed in at the desk is being put into it; try again when that is done", bookfile.ErrBusy), f.Close())
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// Verify says what is wrong with the records, and how many have rows that are not
// in the book yet.
func (s Store) Verify() (wrong []string, waiting int, err error) {
	for _, dir := range []string{s.dir(), s.closed()} {
		list, err := readAll(dir)
		if err != nil {
			wrong = append(wrong, strings.Split(err.Error(), "\n")...)
		}
		for _, r := range list {
			if len(r.Waiting) > 0 {
				waiting++
			}
		}
	}
	return wrong, waiting, nil
}

// Of gives the records of a customer and of some orders, closed ones too.
func (s Store) Of(customer string, orders map[string]bool) (list []*Record, err error) {
	open, err := readAll(s.dir())
	closed, wrong := readAll(s.closed())
	for _, r := range append(open, closed...) {
		if r.Customer() == customer || orders[r.OrderID] {
			list = append(list, r)
		}
	}
	return list, errors.Join(err, wrong)
}

// Forget removes records for good.
func (s Store) Forget(list []*Record) (err error) {
	for _, r := range list {
		for _, dir := range []string{s.dir(), s.closed()} {
			err = errors.Join(err, durable.Remove(filepath.Join(dir, name(r.OrderID))))
		}
	}
	return errors.Join(err, os.RemoveAll(filepath.Join(s.dir(), "new")))
}

// loading is the lock that a load of kept rows holds, and whoever must not meet one.
const loading = "loading"

// Still keeps keyed rows from being loaded until unlock is called; ErrBusy where
// they are just now.
func (s Store) Still() (unlock func(), err error) { return s.lock(loading) }

// Waits reports whether rows wait to be loaded. It is cheap where nothing is kept.
func (s Store) Waits() bool {
	list, _ := readAll(s.dir())
	return slices.ContainsFunc(list, func(r *Record) bool { return len(r.Waiting) > 0 })
}

// Loaded takes the rows that were loaded off those that wait; what was typed
// meanwhile goes on waiting. A refused record keeps all: what of it is in the book
// is found unchanged the next time.
func (s Store) Loaded(was *Record, refused string) error {
	unlock, err := s.lock("lock")
	if err != nil {
		return err
	}
	defer unlock()
	now, err := s.Get(was.OrderID)
	if errors.Is(err, ErrNone) {
		return nil // forgotten
	}
	if err != nil {
		return err
	}
	if now.Refused = refused; refused == "" {
		now.Waiting = slices.DeleteFunc(now.Waiting, func(w Row) bool {
			return slices.ContainsFunc(was.Waiting, func(x Row) bool { return x.Sheet == w.Sheet && maps.Equal(x.Cells, w.Cells) })
		})
	}
	return s.write(now)
}
