package main

import (
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"unicode/utf8"
)

const lead = `lastroom reads a boot workshop's order sheets into an order book and says which
faults of measuring forms go with remakes, which rule for holding forms would
pay, and how this month compares.
`

const caution = `A statistic is no diagnosis. Numb or diabetic feet, swelling and orthotics belong
in licensed care. Body measurements are private: keep the book as you keep them.
`

// overview is the help of the whole program.
func overview(w io.Writer) {
	fmt.Fprintf(w, "%s\nUse:\n    lastroom COMMAND [FLAGS] …\n\nStart here, with an invented workshop:\n    lastroom demo\n\nCommands:\n", lead)
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, c := range commands() {
		fmt.Fprintf(t, "    %s\t%s\n", c.name, c.summary)
	}
	t.Flush()
	fmt.Fprintf(w, `
Each explains itself: lastroom COMMAND --help

Exit status: 0 done; 1 done, with findings that hold work up; 2 wrong use;
3 bad input; 4 trouble with the machine.

%s`, caution)
}

// help is one command's: what it does, an example, its flags.
func (c command) help(w io.Writer) {
	fs := c.flagSet()
	c.flags(fs)
	fmt.Fprintf(w, "%s: %s\n\nUse:\n    lastroom %s", c.name, c.summary, c.name)
	if hasFlags(fs) {
		fmt.Fprint(w, " [FLAGS]")
	}
	if c.args != "" {
		fmt.Fprint(w, " ", c.args)
	}
	fmt.Fprint(w, "\n")
	if c.about != "" {
		fmt.Fprintf(w, "\n%s", folded(c.about, 80))
	}
	fmt.Fprint(w, "\nExample, in a folder where \"lastroom demo --dir demo\" was run before:\n")
	for _, e := range c.examples {
		fmt.Fprintf(w, "    $ %s\n", e)
	}
	if hasFlags(fs) {
		fmt.Fprint(w, "\nFlags:\n")
		printFlags(w, fs)
	}
}

func hasFlags(fs *flag.FlagSet) bool {
	n := 0
	fs.VisitAll(func(*flag.Flag) { n++ })
	return n > 0
}

func printFlags(w io.Writer, fs *flag.FlagSet) {
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fs.VisitAll(func(f *flag.Flag) {
		value, words := flag.UnquoteUsage(f)
		fmt.Fprintf(t, "    --%s\t%s\n", strings.TrimSpace(f.Name+" "+value), strings.TrimPrefix(words, value+": "))
	})
	t.Flush()
}

// folded sets paragraphs, parted by empty lines, in lines of at most width.
func folded(text string, width int) string {
	var b strings.Builder
	for i, paragraph := range strings.Split(strings.TrimSpace(text), "\n\n") {
		if i > 0 {
			b.WriteString("\n")
		}
		column := 0
		for _, word := range strings.Fields(paragraph) {
			n := utf8.RuneCountInString(word)
			switch {
			case column == 0:
			case column+1+n > width:
				b.WriteString("\n")
				column = 0
			default:
				b.WriteString(" ")
				column++
			}
			b.WriteString(word)
			column += n
		}
		b.WriteString("\n")
	}
	return b.String()
}
