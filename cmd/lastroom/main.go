package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"lastroom/ingest/sandbox"
)

func main() {
	sandbox.Main() // a person's SQL runs in a process of its own
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50) // a large book's orders stay in memory: 2 % slower, a sixth less memory
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Stdin, os.Stdout, os.Stderr, os.Args[1:])
	stop()
	os.Exit(status)
}

// run is the whole program: it reads args, does what they ask, and gives the
// exit status.
func run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer, args []string) int {
	a := &app{stdin: stdin, stdout: stdout, stderr: stderr}
	err := a.dispatch(ctx, args)
	if err != nil && ctx.Err() != nil {
		err = ctx.Err() // whatever else it looked like on the way out
	}
	a.progress.done()
	return a.report(err)
}

// An app is one run of the program.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	progress       progress
}

// dispatch finds the command and runs it.
func (a *app) dispatch(ctx context.Context, args []string) error {
	if len(args) == 0 {
		overview(a.stderr)
		return usageError("", "say what to do")
	}
	switch args[0] {
	case "-h", "-help", "--help":
		overview(a.stdout)
		return nil
	case "--version", "-version":
		fmt.Fprintln(a.stdout, "lastroom", version())
		return nil
	case "help":
		return a.help(args[1:])
	}
	c, rest, err := find(args)
	if err != nil {
		return err
	}
	return c.start(ctx, a, rest)
}

func (a *app) help(args []string) error {
	if len(args) == 0 {
		overview(a.stdout)
		return nil
	}
	c, _, err := find(args)
	if err != nil {
		return err
	}
	c.help(a.stdout)
	return nil
}
