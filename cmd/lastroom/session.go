package main

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lastroom/analysis/form"
	"lastroom/analysis/session"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/ingest/lengths"
	"lastroom/reports/sheet"
	"lastroom/reports/taping"
)

func (a *app) sessionCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "session",
		Short: "sheets for a class that tapes the same legs",
		Long: `Writes a file to print: who tapes whom in which order, drawn by lot and balanced,
and a sheet of boxes for each who measures. Everybody tapes the same legs, the
instructor too, and sees no number of another. Type the numbers into a repeats
sheet and load it; or hold the session on the pages (lastroom serve), which show
all of it at the end.`,
		Example: `lastroom session --instructor M01 --measurers M02,M03 --legs A,B,C
lastroom session --instructor M01 --measurers M02 --legs A,B,C --places ball,7in,9in,11in --lot 11`,
		Args: noArguments,
	}
	fs := c.Flags()
	a.sayFlag(c)
	name := fs.String("name", "", "what the session is called, its `NAME` (default from the day)")
	day := fs.String("day", "", "the `DAY` of the session, as 2026-11-26 (default today)")
	instructor := fs.String("instructor", "", "the `NAME` of who all are compared with")
	measurers := fs.StringSlice("measurers", nil, "the `NAMES` of who measures, with commas between")
	legs := fs.StringSlice("legs", nil, "whose legs are measured: letters or customer numbers, no names; `LIST` with commas between")
	places := fs.StringSlice("places", []string{"ball", "instep", "7in", "9in", "11in"}, "where the tape lies: points and heights above the floor, `LIST` with commas between")
	times := wholeFlag(fs, "times", "how often each leg is measured by each, a `NUMBER` (default 2)", 1, 2)
	unit := choiceFlag(c, "unit", "the `UNIT` to write in: in, cm or mm (default the language's)", []string{"in", "cm", "mm"})
	lot := wholeFlag(fs, "lot", "the `NUMBER` that the order follows from (default 1)", 0, 1)
	paper := choiceFlag(c, "paper", "the `PAPER` to print on: "+strings.Join(sheet.PaperNames(), ", ")+" (default a4)", sheet.PaperNames())
	out := fileFlag(c, "out", "session.html", "the `FILE` to write", "html")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if *day == "" {
			*day = time.Now().Format(time.DateOnly)
		}
		if _, err := time.Parse(time.DateOnly, *day); err != nil {
			return usageError(c, "--day %q: write it as 2026-11-26", *day)
		}
		if *name == "" {
			*name = "T-" + *day
		}
		p := session.Plan{ID: *name, Day: *day, Seed: uint64(*lot), Instructor: *instructor, Measurers: *measurers, Subjects: *legs, Trials: *times}
		if p.Unit = a.unit(); c.Flags().Changed("unit") {
			p.Unit, _ = form.ParseUnit(*unit)
		}
		for _, one := range *places {
			spot, err := spotNamed(one)
			if err != nil {
				return usageError(c, "--places: %s", err)
			}
			p.Spots = append(p.Spots, spot)
		}
		if err := p.Check(); err != nil {
			return usageError(c, "%s", err)
		}
		size := sheet.Papers[slices.Index(sheet.PaperNames(), *paper)]
		if err := workshop.WriteFile(*out, func(w io.Writer) error { return taping.Sheets(w, &p, size, a.language) }); err != nil {
			return err
		}
		_, err := fmt.Fprintf(a.stdout, "%s\nPrint it on %s. The numbers go into a repeats sheet with session_id %s.\n", *out, size.Name, p.ID)
		return err
	}
	return c
}

// spotNamed reads a point of the foot or leg, or a height above the floor.
func spotNamed(text string) (session.Spot, error) {
	text = strings.ToLower(strings.TrimSpace(text))
	if p, ok := form.ParsePoint(text); ok && p.Girth() && p != form.Leg {
		return session.Spot{Point: p}, nil
	}
	mm, err := lengths.Parse(text, form.NoUnit, lengths.Options{})
	if err != nil {
		return session.Spot{}, fmt.Errorf("%q is none of ball, instep, heel, ankle, calf, and no height as 9in", text)
	}
	return session.Spot{Point: form.Leg, HeightMM: form.Height(mm)}, nil
}
