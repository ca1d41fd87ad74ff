package main

import (
	"context"
	"flag"
	"io"
	"runtime/debug"
	"strings"
)

// A command is one thing the program does.
type command struct {
	name    string // "load", or two words: "book info"
	args    string // what follows the flags, as "SHEETS…"; "" for nothing
	summary string // one line
	about   string // a paragraph or two
	// examples are command lines that work where `lastroom demo --dir demo`
	// was run before; a test runs each of them.
	examples []string
	// flags declares the command's flags and gives what runs once they are
	// read.
	flags func(*flag.FlagSet) action
}

// An action does a command's work. args are what is not a flag.
type action func(ctx context.Context, a *app, args []string) error

// commands in the order in which they are listed. A function, since the
// commands' help lists the commands.
func commands() []command {
	return []command{
		demoCommand,
		layoutCommand,
		loadCommand,
		checkCommand,
		faultsCommand,
		rulesCommand,
		trendCommand,
		reviewCommand,
		runCommand,
		compareCommand,
		serveCommand,
		auditCommand,
		bookInfoCommand,
		bookVerifyCommand,
		bookBackupCommand,
		bookRestoreCommand,
		bookExportCommand,
		bookForgetCommand,
	}
}

// find gives the command that args begin with, and the rest of them.
func find(args []string) (command, []string, error) {
	var names []string
	for _, c := range commands() {
		words := strings.Fields(c.name)
		if len(args) >= len(words) && strings.Join(args[:len(words)], " ") == c.name {
			return c, args[len(words):], nil
		}
		names = append(names, c.name)
	}
	return command{}, nil, unknownCommand(args, names)
}

// unknownCommand says which command may have been meant: of two words where
// the first is the start of such commands.
func unknownCommand(args, names []string) error {
	said := args[0]
	var seconds []string
	for _, n := range names {
		if first, second, ok := strings.Cut(n, " "); ok && first == args[0] {
			seconds = append(seconds, second)
		}
	}
	switch {
	case strings.HasPrefix(said, "-"):
		return usageError("", "say the command first, then its flags: lastroom COMMAND %s …", said)
	case len(seconds) > 0 && (len(args) < 2 || strings.HasPrefix(args[1], "-")):
		return usageError("", "%s needs one of: %s", args[0], strings.Join(seconds, ", "))
	case len(seconds) > 0:
		return usageError("", "there is no %q under %s%s", args[1], args[0], didYouMean(args[1], seconds, "%s"))
	}
	return usageError("", "there is no command %q%s", said, didYouMean(said, names, "%s"))
}

// start reads the flags and runs the command.
func (c command) start(ctx context.Context, a *app, args []string) error {
	fs := c.flagSet()
	act := c.flags(fs)
	rest, err := parse(fs, args)
	if err == flag.ErrHelp {
		c.help(a.stdout)
		return nil
	}
	if err != nil {
		return usageError(c.name, "%s", err.Error())
	}
	if c.args == "" && len(rest) > 0 {
		return usageError(c.name, "%s takes no %q", c.name, rest[0])
	}
	return act(ctx, a, rest)
}

func (c command) flagSet() *flag.FlagSet {
	fs := flag.NewFlagSet(c.name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	return fs
}

// version is the revision the program was built from, as far as the build knows.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v := info.Main.Version
	if v == "" || v == "(devel)" {
		v = "development"
	}
	return v
}
