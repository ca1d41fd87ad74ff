package demo

import (
	"fmt"
	"strconv"

	"lastroom/analysis/cohort"
	"lastroom/analysis/form"
)

// trainings is the number of sessions in which measurers and an instructor
// measure the same legs again.
const trainings = 5

// writeRepeats writes the training sessions: in each, four measurers and the
// fitter F1 as instructor take six spots on both sides of six people, twice.
func (w *workshop) writeRepeats() {
	for s := range trainings {
		r := w.random(streamRepeats, s)
		on := workday(firstDay + 150 + cohort.Day(190*s))
		for p := range 6 {
			subject := w.person(-1 - 6*s - p) // nobody who orders
			for m := range 5 {
				who := w.staff.fitters[0]
				if m > 0 {
					who = w.staff.dealers[(4*s+m)%len(w.staff.dealers)]
				}
				bias := 0.6*who.careless*who.sd - who.tight
				for trial := 1; trial <= 2; trial++ {
					for _, side := range form.Sides {
						l := &subject.legs[side]
						type spot struct {
							point  form.Point
							at, mm float64
						}
						spots := []spot{{form.Ball, 0, l.mm[ballGirth]}, {form.Instep, 0, l.instep}}
						for h := 7.0; h <= 13; h += 2 {
							spots = append(spots, spot{form.Leg, h * inch, l.girthAt(h*inch + who.higher)})
						}
						for _, pt := range spots {
							mm := pt.mm + bias + who.sd*r.NormFloat64()
							w.sheets.repeats.row(fmt.Sprintf("T%d", s+1), fmt.Sprintf("T%d-%d", s+1, p+1), who.id, strconv.Itoa(trial),
								yesNo(m == 0).String(), side.String(), pt.point.String(), height(pt.at), strconv.FormatFloat(mm, 'f', 0, 64), "mm", on.String())
						}
					}
				}
			}
		}
	}
}

// height is a height in mm, or nothing for a point of the foot.
func height(mm float64) string {
	if mm == 0 {
		return ""
	}
	return strconv.FormatFloat(mm, 'f', 1, 64)
}
