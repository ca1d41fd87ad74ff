package main

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"

	"lastroom/analysis/cohort"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/demo"
)

func (a *app) demoCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "demo",
		Short: "an invented workshop: its sheets, its order book, its review",
		Long: `Invents three years of orders (nobody in them is real), loads them and writes the
review of the last month. Good for trying every other command without risk. The
same seed gives the same workshop.`,
		Example: "lastroom demo --dir demo",
		Args:    noArguments,
	}
	a.sayFlag(c)
	dir := folderFlag(c, "dir", "the `FOLDER` to write into (default a new one among the temporary files)")
	seed := wholeFlag(c.Flags(), "seed", "another `NUMBER`, another workshop (default 1)", 0, 1)
	orders := wholeFlag(c.Flags(), "orders", "the `NUMBER` of orders in three years (default 1500)", 1, 1500)
	c.RunE = func(c *cobra.Command, _ []string) (err error) {
		if *dir == "" {
			if *dir, err = os.MkdirTemp("", "lastroom-demo-"); err != nil {
				return err
			}
		}
		made, err := workshop.Invent(c.Context(), *dir, demo.Options{Seed: uint64(*seed), Orders: *orders},
			workshop.Finding{AsOf: cohort.NoDay, Replicates: replicates}, a.language, time.Now, a.show())
		if err != nil {
			return err
		}
		a.progress.done()
		pad := func(path string) string { return fmt.Sprintf("%-*s", len(made.Review), path) }
		say := a.language.Text
		_, err = fmt.Fprintf(a.stdout, `%s

    %s    %s
    %s    %s
    %s    %s

%s
    lastroom faults --book %s
    lastroom rules  --book %s
    lastroom serve  --book %s   %s
    lastroom load   --help      %s
`, say(fmt.Sprintf("An invented workshop, three years to %s. Nobody in it is real.", demo.AsOf)),
			pad(made.Sheets), say(fmt.Sprintf("the order sheets, as a shop would keep them (%d rows)", made.Rows)),
			pad(made.Book), say("the order book made from them"), pad(made.Review), say("its monthly review: open it in a browser"),
			say("Next:"), made.Book, made.Book, made.Book, say("the same as pages"), say("to read your own sheets"))
		return err
	}
	return c
}
