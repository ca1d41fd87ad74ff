package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"lastroom/analysis/nearest"
	"lastroom/cmd/lastroom/workshop"
)

func init() {
	cobra.EnableCommandSorting = false // listed in the order of work
	cobra.MousetrapHelpText = ""       // a double click opens the pages
}

// root is the program's command with all others below it.
func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:           "lastroom",
		Long:          lead,
		Version:       workshop.Version(),
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
		// A person whose forgetting was cut short is forgotten before anything else, and
		// what was typed in at the desk is in the book for every command.
		PersistentPreRunE: func(c *cobra.Command, _ []string) error {
			book := c.Flags().Lookup("book")
			if book == nil {
				return nil
			}
			if err := workshop.FinishForgetting(c.Context(), book.Value.String(), a.show()); err != nil {
				return err
			}
			return workshop.FinishKeying(c.Context(), book.Value.String(), a.show())
		},
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 && clicked() {
				return a.open(c.Context(), documentsBook())
			}
			if len(args) == 0 {
				help(c, c.ErrOrStderr())
				return usageError(c, "say what to do")
			}
			return unknownCommand(c, args[0])
		},
	}
	root.SetIn(a.stdin)
	root.SetOut(a.stdout)
	root.SetErr(a.stderr)
	root.SetVersionTemplate("lastroom {{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	root.SetHelpFunc(func(c *cobra.Command, _ []string) { help(c, c.OutOrStdout()) })
	root.SetHelpCommand(&cobra.Command{
		Use:   "help [COMMAND]",
		Short: "explain a command",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return unknownCommand(c, rest[0])
			}
			help(c, root.OutOrStdout())
			return nil
		},
	})
	book := &cobra.Command{
		Use:   "book",
		Short: "look after an order book: its state, backups, a person to forget",
		Long:  "Looks after the order book as a whole.",
		Args:  cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return unknownCommand(c, args[0])
			}
			return usageError(c, "book needs one of: %s", strings.Join(namesOf(c), ", "))
		},
	}
	book.AddCommand(a.bookInfoCommand(), a.bookVerifyCommand(), a.bookBackupCommand(), a.bookRestoreCommand(), a.bookExportCommand(), a.bookForgetCommand())
	root.AddCommand(a.demoCommand(), a.layoutCommand(), a.templateCommand(), a.loadCommand(), a.checkCommand(), a.faultsCommand(), a.rulesCommand(), a.riskCommand(), a.trendCommand(), a.measurersCommand(), a.silenceCommand(), a.unjudgedCommand(), a.reviewCommand(),
		a.runCommand(), a.compareCommand(), a.openCommand(), a.serveCommand(), a.auditCommand(), a.sheetCommand(), a.teachCommand(), a.practiceCommand(), a.sessionCommand(), book)
	root.InitDefaultCompletionCmd()
	completion, _, _ := root.Find([]string{"completion"})
	completion.Short = "make your shell complete commands and flags"
	return root
}

// namesOf are the names of the commands under one.
func namesOf(c *cobra.Command) (names []string) {
	for _, sub := range c.Commands() {
		if sub.IsAvailableCommand() {
			names = append(names, sub.Name())
		}
	}
	return names
}

// usageError says what is wrong with the command line of c.
func usageError(c *cobra.Command, format string, args ...any) error {
	return &workshop.UsageError{Message: fmt.Sprintf(format, args...), Help: c.CommandPath() + " --help"}
}

func unknownCommand(c *cobra.Command, said string) error {
	hint := nearest.Hint(said, namesOf(c))
	if c.HasParent() {
		return usageError(c, "there is no %q under %s%s", said, c.Name(), hint)
	}
	return usageError(c, "there is no command %q%s", said, hint)
}

// noArguments refuses what is not a flag.
func noArguments(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError(c, "%s takes no %q", nameOf(c), args[0])
	}
	return nil
}

// nameOf is a command's name below the program's: "book info".
func nameOf(c *cobra.Command) string {
	_, name, _ := strings.Cut(c.CommandPath(), " ")
	return name
}

// flagError puts the flag package's errors into words.
func flagError(c *cobra.Command, err error) error {
	var missing *pflag.ValueRequiredError
	var unknown *pflag.NotExistError
	var invalid *pflag.InvalidValueError
	switch {
	case c.HasAvailableSubCommands() && c.Flags().NArg() > 0: // a misspelt command knows none of its flags
		return unknownCommand(c, c.Flags().Arg(0))
	case errors.As(err, &missing):
		return usageError(c, "--%s needs a value", missing.GetSpecifiedName())
	case errors.As(err, &unknown):
		name := unknown.GetSpecifiedName()
		dashes := "--"
		if short := unknown.GetSpecifiedShortnames(); short != "" { // one dash before it
			name, dashes = short, "-"
		}
		return usageError(c, "there is no flag %s%s%s", dashes, name, flagHint(c, name))
	case errors.As(err, &invalid):
		why := invalid.Unwrap().Error()
		if invalid.GetFlag().Value.Type() == "bool" {
			why = fmt.Sprintf("%q is neither true nor false", invalid.GetValue())
		}
		return usageError(c, "--%s: %s", invalid.GetFlag().Name, why)
	}
	return usageError(c, "%s", err.Error())
}

func flagHint(c *cobra.Command, said string) string {
	var names []string
	c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	if near := nearest.Name(said, names); near != "" {
		return "; did you mean --" + near + "?"
	}
	return ""
}
