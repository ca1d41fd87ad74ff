package desk

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A score is how many tenths of tenths of good forms are as odd: 2 is one of a hundred, 1.5
// one of the root of a thousand, 31.6. From one of 10,000 on no figure is given.
func TestOddnessInWords(t *testing.T) {
	for score, said := range map[float64]string{
		1.5: "all but 3.2 % of good forms", 2: "all but 1 % of good forms", 4: "all but 0.01 % of good forms",
		4.1: "practically all good forms (all but fewer than 0.01 %)",
	} {
		assert.Equal(t, said, oddness(score))
	}
}
