// Package care has what is said for the wearer's sake, whatever the numbers mean for the
// boots: [General] stands everywhere, [Swelling] and [NewSwelling] where the numbers may
// say something of health. None of it is a diagnosis; licensed care decides.
package care

// General cautions stand on every check, page and letter.
var General = []string{
	"Numb, diabetic, swollen or deformed feet, and feet with an orthotic, belong in licensed care: this check sees numbers only.",
	"Body measurements are private: keep them no longer and show them no wider than the work needs.",
	"A number outside the range is a question to the measurer, never a verdict on the person; a statistic is no diagnosis.",
}
