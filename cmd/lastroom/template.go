package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lastroom/cmd/lastroom/workshop"
)

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
