package notebooks

import (
	"fmt"
	"strings"

	"lastroom/analysis/nearest"
)

// meant says "did you mean", or lists what there is.
func meant(word string, names []string) string {
	if n := nearest.Name(word, names); n != "" {
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
