package main

import (
	"context"
	"fmt"
	"math"
	"strconv"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"lastroom/analysis/rules"
	"lastroom/cmd/lastroom/workshop"
	"lastroom/notebooks/analyses"
	"lastroom/reports/review"
)

func (a *app) rulesCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "rules",
		Short: "the scorecard of intake rules: what each would hold, catch and save",
		Long: `A rule says which first forms to hold and call back over. For each: how many it
would hold, how many of the remakes it would have caught, and what that is worth
per 100 orders. The rules are a small file: print it (--print), edit it, and keep
it as rules.yaml in the folder beside the book (shop.files for shop.duckdb).

With --choose: the set of rules that saves most together, for as many call-backs
a month as can be made (--calls-a-month), or as many as pay by the costs. A form
that several rules hold is called about once.

With --try: any condition over the columns of a form, as if it were a rule.`,
		Example: `lastroom rules --book demo/shop.duckdb
lastroom rules --book demo/shop.duckdb --choose --calls-a-month 10
lastroom rules --book demo/shop.duckdb --try "tape_marks_missing AND shaft_height_in >= 14"
lastroom rules --print`,
		Args: noArguments,
	}
	r := a.readingFlags(c)
	costs := costFlags(c.Flags())
	file := rulesFlag(c)
	show := c.Flags().Bool("print", false, "print the rules file that is used, to copy and edit, and stop")
	choose := c.Flags().Bool("choose", false, "choose the set of rules that saves most together")
	month := amountFlag(c.Flags(), "calls-a-month", "with --choose: the `NUMBER` of first forms that may be held a month, on average")
	must := c.Flags().StringSlice("must", nil, "with --choose: a `RULE` that is in the set in any case; may be given several times")
	never := c.Flags().StringSlice("never", nil, "with --choose: a `RULE` that is not")
	withModel := c.Flags().Bool("with-model", false, "with --choose: let forms held by the risk model be one candidate")
	try := c.Flags().String("try", "", "a `CONDITION` to score as if it were a rule")
	success := amountFlag(c.Flags(), "success", "with --choose or --try: the `SHARE` of call-backs that mend the form (default by the book)")
	holdShare := amountFlag(c.Flags(), "hold-share", "the `SHARE` of first forms that the desk may hold (default as many as pay by the costs)")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := rulesUse(c, *choose, *success, *holdShare); err != nil {
			return err
		}
		share := 0.0
		if *success != nil {
			share = **success
		}
		most := 0.0
		if *holdShare != nil {
			most = **holdShare
		}
		switch {
		case *show:
			_, text, err := workshop.ReadRules(*r.book, *file)
			if err == nil {
				_, err = a.stdout.Write(text)
			}
			return err
		case *choose:
			chosen := func(f analyses.Findings, ctx context.Context) (rules.Choice, error) {
				d, err := f.Choose(ctx, rules.ChooseOptions{CallsAMonth: *month, Must: *must, Never: *never, Options: rules.Options{Success: share}}, *withModel)
				return d, workshop.BadInput(err)
			}
			return printFinding(c.Context(), a, r, *file, *costs, chosen, review.ChoicePage)
		case c.Flags().Changed("try"):
			tried := func(f analyses.Findings, ctx context.Context) (rules.Trial, error) {
				r, err := rules.TriedRule(*try)
				if err != nil {
					return rules.Trial{}, workshop.BadInput(err)
				}
				d, err := f.Try(ctx, r, share)
				return d, workshop.BadInput(err)
			}
			return printFinding(c.Context(), a, r, *file, *costs, tried, review.TrialPage)
		}
		scorecard := func(f analyses.Findings, ctx context.Context) (rules.Scorecard, error) {
			f.HoldShare = most
			d, err := f.Rules(ctx)
			return d, workshop.BadInput(err) // a condition that is none
		}
		return printFinding(c.Context(), a, r, *file, *costs, scorecard, review.RulesPage)
	}
	return c
}

// rulesUse refuses flags that do not go together.
func rulesUse(c *cobra.Command, choose bool, success, holdShare *float64) error {
	fs := c.Flags()
	for _, name := range []string{"calls-a-month", "must", "never", "with-model"} {
		if fs.Changed(name) && !choose {
			return usageError(c, "--%s goes with --choose", name)
		}
	}
	switch tries := fs.Changed("try"); {
	case holdShare != nil && (choose || tries):
		return usageError(c, "--hold-share goes with the scorecard, without --choose and --try")
	case holdShare != nil && !(*holdShare > 0 && *holdShare < 1):
		return usageError(c, "--hold-share %v is not a share between 0 and 1, as 0.2", *holdShare)
	case choose && tries:
		return usageError(c, "--choose and --try are two questions: ask one at a time")
	case success != nil && !choose && !tries:
		return usageError(c, "--success goes with --choose or --try")
	case success != nil && !(*success > 0 && *success <= 1):
		return usageError(c, "--success %v is not a share above 0 and up to 1, as 0.7", *success)
	}
	return nil
}

// amountFlag declares a flag that takes a number from 0 up; nil where it is not
// given.
func amountFlag(fs *pflag.FlagSet, name, usage string) **float64 {
	var given *float64
	fs.Func(name, usage, func(s string) error {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil || !(x >= 0) || math.IsInf(x, 0) {
			return fmt.Errorf("%q is not a number from 0 up", s)
		}
		given = &x
		return nil
	})
	return &given
}
