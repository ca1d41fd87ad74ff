package workshop

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"syscall"

	"lastroom/cmd/lastroom/workshop/apart"
	"lastroom/ingest/bookfile"
	"lastroom/ingest/engine"
	"lastroom/ingest/load"
	"lastroom/notebooks/archive"
)

// Exit statuses.
const (
	ExitDone     = 0
	ExitHeld     = 1 // done, with findings that hold work up
	ExitUsage    = 2 // the command line is wrong
	ExitBadInput = 3 // the sheets, the book or another file is wrong
	ExitTrouble  = 4 // the machine failed: disk, memory, a stop from outside
)

var (
	// ErrHeld ends work that was done and found something that holds work up.
	// It has been said what.
	ErrHeld = errors.New("")
	// ErrNoBook is the error of a question to a book that is not there yet.
	ErrNoBook = BadInput(errors.New("there is no order book yet; load order sheets first"))
)

// A UsageError says what is wrong with the command line, and where to read on.
type UsageError struct{ Message, Help string }

func (e *UsageError) Error() string { return e.Message + "\nSee: " + e.Help }

// An inputError says that what came in is wrong: sheets, the book, another
// file. Its text is whole: what is wrong and what to do next.
type inputError struct{ Cause error }

func (e *inputError) Error() string { return e.Cause.Error() }
func (e *inputError) Unwrap() error { return e.Cause }

// BadInput marks an error as one of what came in; nil stays nil. Where the
// machine is to blame after all, failures says so.
func BadInput(err error) error {
	if err == nil {
		return nil
	}
	return &inputError{err}
}

// NeedBook says what to do where there is no book, or another file in its place.
func NeedBook(book string) error {
	if _, err := os.Stat(book); !errors.Is(err, fs.ErrNotExist) {
		return bookfile.NeverABook(book)
	}
	return BadInput(fmt.Errorf("there is no order book %s; make one with: lastroom load --book %s SHEETS…\nOr look at an invented one first: lastroom demo", book, book))
}

// failures is the one table from what went wrong to the exit status and, where
// that differs from the error's own words, the message. The first that fits
// counts; what none fits is trouble.
var failures = []struct {
	fits    func(error) bool
	status  int
	message string // %s: the error's own words; "": those alone
}{
	{is(context.Canceled), ExitTrouble, "stopped; nothing was changed"},
	{is(ErrHeld), ExitHeld, ""},
	{as[*UsageError], ExitUsage, ""},
	{engine.DiskFull, ExitTrouble, "the disk is full; make room, then do it again\n%s"},
	{engine.Corrupt, ExitBadInput, "the order book, or the copy of it that commands read, is damaged; lastroom book verify says which, and what to do\n%s"},
	{is(bookfile.ErrBusy), ExitTrouble, ""},
	{is(syscall.EIO), ExitTrouble, ""},
	{as[*inputError], ExitBadInput, ""},
	{is(bookfile.ErrDamaged), ExitBadInput, ""},
	{is(bookfile.ErrNoBook), ExitBadInput, ""},
	{is(archive.ErrDamaged), ExitBadInput, ""},
	{is(load.ErrNothing), ExitBadInput, ""},
	{is(fs.ErrNotExist), ExitBadInput, ""},
	{is(fs.ErrPermission), ExitBadInput, ""},
}

func is(target error) func(error) bool { return func(err error) bool { return errors.Is(err, target) } }

func as[E error](err error) bool {
	_, ok := errors.AsType[E](err)
	return ok
}

// refusals are what the system says of a file, in words without its calls.
var refusals = []struct {
	is    error
	words string // %s: the file or folder
}{
	{fs.ErrNotExist, "there is no file or folder %s"},
	{fs.ErrPermission, "no permission to read or write %s: it, or the folder it is in, is write-protected or belongs to somebody else; take a folder of your own"},
	{syscall.EROFS, "%s is on a disk that can't be written to; take a folder on another"},
}

// plainly gives an error's words, and in place of a refused call of the system those of
// refusals: "stat x: no such file or directory" is nothing a boot maker has to read.
func plainly(err error) string {
	p, refused := errors.AsType[*fs.PathError](err)
	for _, r := range refusals {
		if refused && errors.Is(p, r.is) {
			return strings.ReplaceAll(err.Error(), p.Error(), fmt.Sprintf(r.words, p.Path))
		}
	}
	return err.Error()
}

// Failure gives the exit status of an error and its words for people.
func Failure(err error) (exitCode int, userMessage string) {
	if err == nil {
		return ExitDone, ""
	}
	if f, ok := errors.AsType[*apart.Failed](err); ok {
		return f.Status, f.Words
	}
	own, _, _ := strings.Cut(plainly(err), "\n\n") // below it the engine speaks of its own insides
	for _, f := range failures {
		switch {
		case !f.fits(err):
			continue
		case strings.Contains(f.message, "%s"):
			return f.status, fmt.Sprintf(f.message, own)
		case f.message != "":
			return f.status, f.message
		}
		return f.status, own
	}
	return ExitTrouble, own
}
