package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"

	"lastroom/ingest/engine"
	"lastroom/ingest/load"
	"lastroom/ingest/orderbook"
)

// Exit statuses.
const (
	statusDone     = 0
	statusHeld     = 1 // done, with findings that hold work up
	statusUsage    = 2 // the command line is wrong
	statusBadInput = 3 // the sheets, the book or another file is wrong
	statusTrouble  = 4 // the machine failed: disk, memory, a stop from outside
)

// A failure is an error with its exit status. The message is whole: what is
// wrong and what to do next.
type failure struct {
	status  int
	message string
	cause   error
}

func (f *failure) Error() string { return f.message }
func (f *failure) Unwrap() error { return f.cause }

// held ends a command that worked and found something that holds work up. It
// has printed what there is to say.
var held = &failure{status: statusHeld}

func usageError(command, format string, args ...any) error {
	help := "lastroom --help"
	if command != "" {
		help = "lastroom " + command + " --help"
	}
	return &failure{status: statusUsage, message: fmt.Sprintf(format, args...) + "\nSee: " + help}
}

// badInput is an error of what came in, unless the machine is to blame.
func badInput(err error) error {
	return &failure{status: known(err, statusBadInput), message: told(err), cause: err}
}

// told is an error in words for people.
func told(err error) string {
	message, _, _ := strings.Cut(err.Error(), "\n\n") // below it the engine speaks of its own insides
	if engine.DiskFull(err) {
		return "the disk is full; make room, then do it again\n" + message
	}
	return message
}

// report prints an error for people and gives its exit status.
func (a *app) report(err error) int {
	if err == nil {
		return statusDone
	}
	status, message := statusOf(err)
	if message != "" {
		fmt.Fprintf(a.stderr, "lastroom: %s\n", message)
	}
	return status
}

// statuses is the one table from what went wrong to the exit status; anything
// else is trouble.
var statuses = []struct {
	is     error
	status int
}{
	{context.Canceled, statusTrouble},
	{orderbook.ErrBusy, statusTrouble},
	{syscall.EIO, statusTrouble},
	{orderbook.ErrDamaged, statusBadInput},
	{load.ErrNothing, statusBadInput},
	{fs.ErrNotExist, statusBadInput},
	{fs.ErrPermission, statusBadInput},
}

func statusOf(err error) (int, string) {
	if errors.Is(err, context.Canceled) {
		return statusTrouble, "stopped; nothing was changed"
	}
	if f, ok := errors.AsType[*failure](err); ok {
		return f.status, f.message
	}
	return known(err, statusTrouble), told(err)
}

// known looks an error up in the table of statuses.
func known(err error, otherwise int) int {
	if engine.DiskFull(err) {
		return statusTrouble
	}
	for _, s := range statuses {
		if errors.Is(err, s.is) {
			return s.status
		}
	}
	return otherwise
}
