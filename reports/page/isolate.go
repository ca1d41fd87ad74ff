package page

import "regexp"

// rightToLeft are words with letters of a script that runs to the left, from the first
// such word to the last of a run.
var rightToLeft = func() *regexp.Regexp {
	const letter, part, end = `[\p{Hebrew}\p{Arabic}\p{Syriac}\p{Thaana}\p{Nko}]`, `[^\s“”"(),;:]*`, `[\p{L}\p{N}]`
	const word = part + letter + "(?:" + part + end + ")?"
	return regexp.MustCompile(word + `(?:\s+` + word + ")*")
}()

// Isolate keeps an order's number or a word of a script that runs to the left from
// turning round what stands beside it in a sentence ("Order 2-ab: …"): it sets the
// isolates of the Unicode bidirectional algorithm (UAX 9) around it, in the direction of
// the page, so that a number looks there as in a table. They are no markup, so that a
// sentence stays one for the languages. Other texts are unchanged.
func Isolate(s string) string {
	return rightToLeft.ReplaceAllString(s, "\u2066$0\u2069")
}
