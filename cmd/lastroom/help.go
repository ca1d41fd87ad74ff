package main

import (
	"fmt"
	"io"
	"strings"

	"lastroom/reports/page"

	"github.com/spf13/cobra"
)

const lead = `lastroom reads a boot workshop's order sheets into an order book and says which
faults of measuring forms go with remakes, which rule for holding forms would
pay, and how this month compares.`

const caution = `A statistic is no diagnosis. Numb or diabetic feet, swelling and orthotics
belong in licensed care. Body measurements are private: keep the book as you
keep them.
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
		fold(w, long)
	}
	if !c.HasParent() {
		fmt.Fprint(w, "\nUse:\n    lastroom COMMAND [FLAGS] …\n\nStart here, with an invented workshop:\n    lastroom demo\n")
	}
	if c.HasAvailableSubCommands() {
		fmt.Fprint(w, "\nCommands:\n")
		names, shorts := list(c, "")
		indent := 0
		for _, name := range names {
			indent = max(indent, len("    "+name+"   "))
		}
		for i, name := range names {
			for k, line := range page.Wrap(shorts[i], page.UsualWidth-indent) {
				if k > 0 {
					name = ""
				}
				fmt.Fprintf(w, "%-*s%s\n", indent, "    "+name, line)
			}
		}
	}
	if c.Example != "" {
		fmt.Fprint(w, "\nExample, in a folder where \"lastroom demo --dir demo\" was run before:\n")
		for _, e := range strings.Split(c.Example, "\n") {
			fmt.Fprintf(w, "    $ %s\n", e)
		}
	}
	if flags := c.LocalFlags().FlagUsagesWrapped(page.UsualWidth); c.HasParent() && flags != "" {
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

// fold writes paragraphs as wide as any text; what is indented stays as it is.
func fold(w io.Writer, text string) {
	for i, paragraph := range strings.Split(text, "\n\n") {
		if i > 0 {
			fmt.Fprintln(w)
		}
		if strings.HasPrefix(paragraph, " ") {
			fmt.Fprintln(w, paragraph)
			continue
		}
		for _, line := range page.Wrap(strings.ReplaceAll(paragraph, "\n", " "), page.UsualWidth) {
			fmt.Fprintln(w, line)
		}
	}
}

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

// list names the commands below c, those of a group under its name, and what each does.
func list(c *cobra.Command, before string) (names, shorts []string) {
	for _, sub := range c.Commands() {
		switch {
		case !sub.IsAvailableCommand():
		case sub.HasAvailableSubCommands() && sub.Runnable():
			below, does := list(sub, sub.Name()+" ")
			names, shorts = append(names, below...), append(shorts, does...)
		default:
			names, shorts = append(names, before+sub.Name()), append(shorts, sub.Short)
		}
	}
	return names, shorts
}
