package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/sandbox"
	"lastroom/reports/translation"
)

func main() {
	sandbox.Main() // a person's SQL runs in a process of its own
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50) // a large book's orders stay in memory: 2 % slower, a sixth less memory
	}
	workshop.Main() // what the service loads, too
	usual := debug.SetGCPercent(-1)
	for range 16 {
		untouched = append(untouched, make([]byte, 4<<20))
	}
	debug.SetGCPercent(usual)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Stdin, os.Stdout, os.Stderr, os.Args[1:])
	stop()
	runtime.KeepAlive(untouched)
	os.Exit(status)
}

// A small shop's findings leave much behind and keep little: counted with 64 MB that are
// never touched, the collector comes a tenth as often. They are made in pieces, since one that
// begins where something has been before is cleared as a whole. The service gives them back:
// it is to stay small.
var untouched [][]byte

// run is the whole program: it reads args, does what they ask, and gives the
// exit status.
func run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer, args []string) int {
	a := &app{stdin: stdin, stdout: stdout, stderr: stderr}
	root := a.root()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err != nil && ctx.Err() != nil {
		err = ctx.Err() // whatever else it looked like on the way out
	}
	a.progress.done()
	exitCode, userMessage := workshop.Failure(err)
	if userMessage != "" {
		fmt.Fprintf(stderr, "lastroom: %s\n", a.spoken(args).Message(userMessage))
	}
	return exitCode
}

// spoken is the language of what went wrong: also where the command line was wrong before
// its --language was read.
func (a *app) spoken(args []string) *translation.Language {
	if a.language != nil {
		return a.language
	}
	for i, arg := range args {
		tag, given := strings.CutPrefix(arg, "--language=")
		if arg == "--language" && i+1 < len(args) {
			tag, given = args[i+1], true
		}
		if given && slices.Contains(translation.Tags(), tag) {
			if l, err := translation.Of(tag); err == nil {
				return l
			}
		}
	}
	return nil
}

// An app is one run of the program.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	progress       progress
	language       *translation.Language // of texts and pages; nil: English
}
