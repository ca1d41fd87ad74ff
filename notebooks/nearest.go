package notebooks

import (
	"fmt"
	"strings"
)

// nearest is the name of least edit distance to word, or "" where none is near
// (more than a third of its letters would have to change).
func nearest(word string, names []string) string {
	best, at := "", len(word)/3+2
	for _, n := range names {
		if d := distance(strings.ToLower(word), strings.ToLower(n)); d < at {
			best, at = n, d
		}
	}
	return best
}

// meant says "did you mean", or lists what there is.
func meant(word string, names []string) string {
	if n := nearest(word, names); n != "" {
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

// distance is the Levenshtein distance, in runes.
func distance(a, b string) int {
	s, t := []rune(a), []rune(b)
	row := make([]int, len(t)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range s {
		diagonal := row[0]
		row[0] = i + 1
		for j, q := range t {
			d := diagonal
			if r != q {
				d++
			}
			diagonal = row[j+1]
			row[j+1] = min(d, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(t)]
}
