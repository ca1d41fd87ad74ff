// Package shallow looks at YAML texts before a parser sees them: parsers take
// memory and time without measure for texts that are nested deep.
package shallow

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
)

// MaxBytes is the size of the largest YAML text that is read, many times what a
// person writes: the time that a parser takes grows with the square of a long list.
const MaxBytes = 64 << 10

// maxDepth is how deep a person nests lists and tables.
const maxDepth = 20

// Check sees that a text is small and nested no deeper than a person nests
// one, without parsing it. Brackets inside quotes count too, so the limit on
// them is wide.
func Check(text []byte) error {
	if len(text) > MaxBytes {
		return fmt.Errorf("is larger than %d KiB", MaxBytes>>10)
	}
	tooDeep := errors.New("is nested too deep")
	open, indents := 0, []int{}
	for line := range bytes.Lines(text) {
		indent := len(line) - len(bytes.TrimLeft(line, " "))
		rest := line[indent:]
		for len(indents) > 0 && indents[len(indents)-1] >= indent {
			indents = indents[:len(indents)-1]
		}
		indents = append(indents, indent)
		for marks := 0; len(rest) > 1 && strings.IndexByte("-?:", rest[0]) >= 0 && (rest[1] == ' ' || rest[1] == '\t'); marks++ {
			rest = bytes.TrimLeft(rest[1:], " \t")
			if marks > maxDepth {
				return tooDeep
			}
		}
		for _, c := range line {
			switch c {
			case '[', '{':
				open++
			case ']', '}':
				open = max(0, open-1)
			}
			if open > 5*maxDepth {
				return tooDeep
			}
		}
		if len(indents) > 2*maxDepth {
			return tooDeep
		}
	}
	return nil
}
