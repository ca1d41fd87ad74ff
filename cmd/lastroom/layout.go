package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
	"lastroom/cmd/lastroom/workshop/bookpages"
)

func (a *app) layoutCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "layout FILES…",
		Short: "look at your own spreadsheets and propose how to read them",
		Long: `FILES are spreadsheets as you keep them, or folders of them. The program says
what each column seems to be, with five of its cells as written and as they would
be read, what it would not use, and what only you can tell, as questions. With
--out it writes that as a mapping for lastroom load --map; the questions stand in
it as comments, and it loads as it is. Nothing is loaded here.`,
		Example: "lastroom layout --out map.yaml demo/sheets",
	}
	out := fileFlag(c, "out", "", "a `FILE` to write the mapping to; it must not be there yet", "yaml", "yml")
	unpack := unpackFlag(c)
	format := formatFlag(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return usageError(c, "say which spreadsheets to look at: files or folders")
		}
		a.show()("looking at the files", 0, 0)
		p, err := workshop.ProposeLayout(c.Context(), args, int64(*unpack)<<20)
		if err != nil {
			return err
		}
		if *out != "" && p.Text != "" {
			if err := writeNew(*out, p.Text); err != nil {
				return err
			}
		}
		return a.print(*format, p, bookpages.Layout(p, *out))
	}
	return c
}

// writeNew writes a file that is not there yet.
func writeNew(path, text string) error {
	if _, err := os.Lstat(path); err == nil {
		return workshop.BadInput(fmt.Errorf("%s is there already, and may hold what you mended; name another file with --out", path))
	}
	return workshop.WriteFile(path, func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	})
}

func (a *app) templateCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "template FOLDER",
		Short: "empty order sheets to fill in, for a shop that starts fresh",
		Long: `Writes empty order sheets into the folder: a CSV file for each sheet, and one
workbook with a tab for each, in which cells that hold one of a few words have a
list to choose from. Use either; lastroom load reads both. Files that are there
already are never written over.`,
		Example: "lastroom template new-sheets",
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) != 1 {
			return usageError(c, "say which folder to write the empty sheets into")
		}
		paths, err := workshop.Templates(args[0])
		if err != nil {
			return err
		}
		for _, p := range paths {
			fmt.Fprintln(a.stdout, p)
		}
		return nil
	}
	return c
}
