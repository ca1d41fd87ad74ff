// Package nearest finds the name that was meant by a misspelt one: of commands,
// flags, columns, cells. It imports nothing of ours.
package nearest

import (
	"fmt"
	"slices"
	"strings"

	"github.com/agnivade/levenshtein"
)

// Name is the name of least edit distance to a word, case aside, or "" where
// none is near: where more than a third of its letters, and one, would have to
// change (judgement). Of several equally near it is the first.
func Name(word string, names []string) string {
	best, least := "", len([]rune(word))/3+2
	for _, n := range names {
		if d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(n)); d < least {
			best, least = n, d
		}
	}
	return best
}

// Names are the names of least edit distance to a word, case aside, at most so many,
// nearest first; of equally near ones as they come. What is too far for Name is
// none.
func Names(word string, names []string, most int) []string {
	word = strings.ToLower(word)
	least := len([]rune(word))/3 + 1
	at := make([][]string, least+1)
	for _, n := range names {
		if d := levenshtein.ComputeDistance(word, strings.ToLower(n)); d <= least {
			at[d] = append(at[d], n)
		}
	}
	near := slices.Concat(at...)
	return near[:min(len(near), most)]
}

// Hint is "; did you mean …?", or "" where no name is near. It goes behind a
// sentence that says what is not there.
func Hint(word string, names []string) string {
	if n := Name(word, names); n != "" {
		return fmt.Sprintf("; did you mean %s?", n)
	}
	return ""
}

// Meant is "did you mean …?", or lists what there is where no name is near.
func Meant(word string, names []string) string {
	if n := Name(word, names); n != "" {
		return fmt.Sprintf("did you mean %q?", n)
	}
	if len(names) == 0 {
		return "there is none"
	}
	const few = 24
	if len(names) > few {
		return fmt.Sprintf("there are: %s and %d more", strings.Join(names[:few], ", "), len(names)-few)
	}
	return "there are: " + strings.Join(names, ", ")
}
