package main

import (
	"flag"
	"fmt"
	"strings"
)

// parse reads flags wherever they stand, before or after other arguments,
// until "--". It gives the other arguments.
func parse(fs *flag.FlagSet, args []string) (rest []string, err error) {
	for len(args) > 0 {
		arg := args[0]
		args = args[1:]
		switch {
		case arg == "--":
			return append(rest, args...), nil
		case arg == "-" || !strings.HasPrefix(arg, "-"):
			rest = append(rest, arg)
		default:
			if args, err = one(fs, arg, args); err != nil {
				return nil, err
			}
		}
	}
	return rest, nil
}

// one reads the flag arg, with its value from after "=" or from args.
func one(fs *flag.FlagSet, arg string, args []string) ([]string, error) {
	name, value, given := strings.Cut(strings.TrimPrefix(strings.TrimPrefix(arg, "-"), "-"), "=")
	if name == "h" || name == "help" {
		return nil, flag.ErrHelp
	}
	f := fs.Lookup(name)
	if f == nil {
		return nil, unknownFlag(fs, name)
	}
	if b, ok := f.Value.(interface{ IsBoolFlag() bool }); ok && b.IsBoolFlag() && !given {
		value, given = "true", true
	}
	if !given {
		if len(args) == 0 {
			return nil, fmt.Errorf("--%s needs a value", name)
		}
		value, args = args[0], args[1:]
	}
	if err := fs.Set(name, value); err != nil {
		return nil, fmt.Errorf("--%s: %s", name, plain(err, value))
	}
	return args, nil
}

// plain puts package flag's parse errors into words.
func plain(err error, value string) string {
	if err.Error() == "parse error" {
		return fmt.Sprintf("%q is not a number", value)
	}
	return err.Error()
}

func unknownFlag(fs *flag.FlagSet, name string) error {
	var names []string
	fs.VisitAll(func(f *flag.Flag) { names = append(names, f.Name) })
	return fmt.Errorf("there is no flag --%s%s", name, didYouMean(name, names, "--%s"))
}

// didYouMean offers the nearest of the names, if one is near at all.
func didYouMean(said string, names []string, format string) string {
	best, least := "", len(said)/2+1
	for _, n := range names {
		if d := distance(said, n); d < least {
			best, least = n, d
		}
	}
	if best == "" {
		return ""
	}
	return "; did you mean " + fmt.Sprintf(format, best) + "?"
}

// distance is how many letters have to be put in, taken out, changed or
// exchanged with their neighbour to make b of a (optimal string alignment).
func distance(a, b string) int {
	before, last := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := range len(a) {
		row := make([]int, len(b)+1)
		row[0] = i + 1
		for j := range len(b) {
			change := last[j]
			if a[i] != b[j] {
				change++
			}
			row[j+1] = min(change, last[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
		before, last = last, row
	}
	return last[len(b)]
}
