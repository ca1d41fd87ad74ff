package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"
)

const lead = `lastroom reads a boot workshop's order sheets into an order book and says which
faults of measuring forms go with remakes, which rule for holding forms would
pay, and how this month compares.`

const caution = `A statistic is no diagnosis. Numb or diabetic feet, swelling and orthotics belong
in licensed care. Body measurements are private: keep the book as you keep them.
`

// help explains a command: what it does, an example that works, its flags; of
// the program itself, and of a group, also the commands below.
func help(c *cobra.Command, w io.Writer) {
	c.InitDefaultHelpFlag()
	if c.HasParent() {
		fmt.Fprintf(w, "%s: %s\n\nUse:\n    %s\n", nameOf(c), c.Short, use(c))
	}
	if long := strings.TrimSpace(c.Long); long != "" {
		if c.HasParent() {
			fmt.Fprintln(w)
		}
		fmt.Fprintln(w, long)
	}
	if !c.HasParent() {
		fmt.Fprint(w, "\nUse:\n    lastroom COMMAND [FLAGS] …\n\nStart here, with an invented workshop:\n    lastroom demo\n")
	}
	if c.HasAvailableSubCommands() {
		fmt.Fprint(w, "\nCommands:\n")
		t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
		list(t, c, "")
		t.Flush()
	}
	if c.Example != "" {
		fmt.Fprint(w, "\nExample, in a folder where \"lastroom demo --dir demo\" was run before:\n")
		for _, e := range strings.Split(c.Example, "\n") {
			fmt.Fprintf(w, "    $ %s\n", e)
		}
	}
	if flags := c.LocalFlags().FlagUsagesWrapped(helpWidth); c.HasParent() && flags != "" {
		fmt.Fprintf(w, "\nFlags:\n%s", flags)
	}
	if !c.HasParent() {
		fmt.Fprintf(w, `
Each explains itself: lastroom COMMAND --help
Your shell completes commands and flags: lastroom completion --help

Exit status: 0 done; 1 done, with findings that hold work up; 2 wrong use;
3 bad input; 4 trouble with the machine.

%s`, caution)
	}
}

// helpWidth is how long the lines of a list of flags are.
const helpWidth = 100

// use is how the command line goes.
func use(c *cobra.Command) string {
	name, args, _ := strings.Cut(c.Use, " ")
	line := strings.TrimSuffix(c.CommandPath(), c.Name()) + name
	switch {
	case c.HasAvailableSubCommands():
		return line + " COMMAND [FLAGS] …"
	case c.HasAvailableLocalFlags():
		line += " [FLAGS]"
	}
	return strings.TrimSpace(line + " " + args)
}

// list names the commands below c; those of a group under its name.
func list(w io.Writer, c *cobra.Command, before string) {
	for _, sub := range c.Commands() {
		switch {
		case !sub.IsAvailableCommand():
		case sub.HasAvailableSubCommands() && sub.Runnable():
			list(w, sub, sub.Name()+" ")
		default:
			fmt.Fprintf(w, "    %s%s\t%s\n", before, sub.Name(), sub.Short)
		}
	}
}
