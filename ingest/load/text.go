package load

import (
	"strconv"
	"strings"
)

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// listed writes names as `a, b and c`.
func listed(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// atoi reads a number that the engine wrote; anything else is 0.
func atoi(text string) int64 {
	n, _ := strconv.ParseInt(text, 10, 64)
	return n
}
