package form

// A Zone is the part of the boot a complaint names.
type Zone string

// The complaint zones of the outcomes sheet.
const (
	ZoneToe    Zone = "toe"
	ZoneBall   Zone = "ball"
	ZoneInstep Zone = "instep"
	ZoneHeel   Zone = "heel"
	ZoneAnkle  Zone = "ankle"
	ZoneCalf   Zone = "calf"
	ZoneTop    Zone = "top"
	ZoneLength Zone = "length"
)

// Zones are all complaint zones, toe to top.
var Zones = []Zone{ZoneToe, ZoneLength, ZoneBall, ZoneInstep, ZoneHeel, ZoneAnkle, ZoneCalf, ZoneTop}

// A Kind says how a fault is known.
type Kind uint8

const (
	// Noted faults are marks on the form, or their absence.
	Noted Kind = iota
	// Counted faults follow from which numbers are there.
	Counted
	// Evident faults are read off the numbers' values. They are kept apart
	// from the others and never enter their adjustment.
	Evident
)

// AtRisk says which forms can have a fault at all.
type AtRisk uint8

// Who can have a fault.
const (
	EveryForm    AtRisk = iota
	WornTucked          // orders whose trousers will be worn inside the boot
	WithOrthotic        // orders with an orthotic
	FormsOfBoth         // forms that carry both sides
)

// An Asking is what a fault asks for at the desk, before leather is cut.
type Asking uint8

// What faults ask for. Common practice of the trade, no published source; which
// of them hold a form in a shop is for its rules.
const (
	Nothing      Asking = iota // what is missing, or the check of the numbers, speaks for itself
	Answer                     // a question that needs no tape
	Tracing                    // the tracing made again
	Girths                     // all girths taken again
	OverTrousers               // the leg girths over the trousers
)

// A Fault is something wrong or missing on a form. Its ID is stable: it stands
// in sheets, views, rules and reports.
type Fault struct {
	ID     string
	Title  string // a few plain words
	Has    string // when a form has it, one sentence
	Kind   Kind
	AtRisk AtRisk
	// Zones are where its complaints should show; none means any zone.
	Zones []Zone
	Asks  Asking
	Why   string // it asks for it, one sentence; "" where it asks for nothing
	// ToWearer is what to say to the wearer. Common practice of the trade, no
	// published source.
	ToWearer string
}

// Retaken says whether taking the number of a place again mends the fault.
func (f Fault) Retaken(p Place) bool {
	leg := p.Point == Leg || p.Point == Calf || p.Point == Ankle
	switch f.ID {
	case "foot-girth-missing", "tape-marks-missing":
		return p.Clothing == Bare && !leg
	case "leg-height-missing":
		return p.Clothing == Bare && leg
	case "tape-zero-missed", "tape-zero-shown", "value-implausible", "unit-mixed":
		return p.Clothing == Bare
	case "tucked-set-skipped":
		return p.Clothing == Tucked
	}
	return false
}

// Faults is the catalogue, in the order in which it is always listed. The
// noted ones are common practice of the trade (no published source); the
// others follow from the numbers.
var Faults = []Fault{
	{"tape-marks-missing", "tape marks missing", "any of the four tape marks is not on the tracing", Noted, EveryForm, []Zone{ZoneBall, ZoneInstep},
		Answer, "the tape marks are not all on the tracing: ask where the tape lay",
		"“Where did the tape lie, over the ball and over the instep? Please lay it there again and make a short line on the outline at both of its edges.”"},
	{"outline-broken", "outline broken", "an outline has a gap", Noted, EveryForm, []Zone{ZoneToe, ZoneLength},
		Tracing, "the outline has a gap: the foot has to be traced again",
		"“Please stand on a fresh sheet and have the foot traced once more, without lifting the pencil.”"},
	{"outline-doubled", "outline doubled", "an outline has more than one line", Noted, EveryForm, []Zone{ZoneToe, ZoneBall, ZoneLength},
		Tracing, "the outline has more than one line: the foot has to be traced again",
		"“Which of the two lines is your foot? We can't tell either: please have it traced again on a fresh sheet, one round only.”"},
	{"tape-zero-missed", "tape not read from its start (noted)", "it was noted that the tape was not read from its start line", Noted, EveryForm, []Zone{ZoneBall, ZoneInstep, ZoneHeel, ZoneCalf},
		Girths, "the tape was not read from its start: all girths have to be taken again",
		"“Please take all girths again, and read from the line marked 0, not from the metal tip.”"},
	{"tape-zero-shown", "tape not read from its start (by the numbers)", "the numbers show a common shift", Evident, EveryForm, []Zone{ZoneBall, ZoneInstep, ZoneHeel, ZoneCalf}, Nothing, "",
		"“Where on your tape is the line marked 0? Please take the ball again from there. If it differs, take all girths again.”"},
	{"foot-girth-missing", "foot girth missing", "ball, instep or heel girth is missing on a side", Counted, EveryForm, []Zone{ZoneBall, ZoneInstep, ZoneHeel}, Nothing, "",
		"“One box is empty. Please take this girth again, on both feet.”"},
	{"leg-height-missing", "leg height missing", "the ankle, or a height the ordered shaft needs, is missing on a side, bare", Counted, EveryForm, []Zone{ZoneAnkle, ZoneCalf, ZoneTop}, Nothing, "",
		"“One height has no number. Please mark it on the leg with a ruler that stands on the floor, and take it on both legs.”"},
	{"tucked-set-skipped", "tucked set skipped", "trousers will be worn inside and there is no tucked number on the form", Counted, WornTucked, []Zone{ZoneCalf, ZoneTop},
		OverTrousers, "trousers will be worn inside and no number was taken over them: the leg has to be measured over the trousers too",
		"“You want to wear trousers inside the boots. Please put them on and take the leg heights once more over them.”"},
	{"self-measured", "self-measured", "the wearer taped their own feet", Noted, EveryForm, []Zone{ZoneInstep, ZoneCalf},
		Answer, "the wearer measured alone: ask for a second person at the tape",
		"“Is there anyone who can hold the tape? While you bend down the leg changes its shape.”"},
	{"sides-copied", "sides copied", "left and right agree to the digit on every number", Evident, FormsOfBoth, nil, Nothing, "",
		"“Were both feet measured? Please take the right side again without looking at the left.”"},
	{"unit-mixed", "unit mixed", "a number only makes sense in another unit", Evident, EveryForm, nil, Nothing, "",
		"“Which unit is this number in? Please read it once more, from the side of the tape that all the others are from.”"},
	{"value-implausible", "value implausible", "a number, or the set, lies outside what human feet and legs show", Evident, EveryForm, nil, Nothing, "",
		"“Please take this one again, and say the number aloud while you read it.”"},
	{"orthotic-undiscussed", "orthotic not talked over", "an orthotic is worn and there is no note of a talk about it", Noted, WithOrthotic, []Zone{ZoneInstep, ZoneHeel},
		Answer, "an orthotic is worn and not talked over: ask before cutting",
		"“Will the insert be worn in the boots? What it is for is for your doctor or podiatrist to say; we need to know whether it goes in.”"},
}

// FaultIDs are the ids of the catalogue, in its order.
func FaultIDs() []string {
	ids := make([]string, len(Faults))
	for i, f := range Faults {
		ids[i] = f.ID
	}
	return ids
}

// FaultIndex finds a fault in the catalogue, or says it is not there.
func FaultIndex(id string) (int, bool) {
	for i, f := range Faults {
		if f.ID == id {
			return i, true
		}
	}
	return 0, false
}

// A State is what is known of a fault on a form. "Unknown" is never "without".
type State uint8

// What can be known of a fault on a form.
const (
	Unknown State = iota
	Without
	With
	NotAtRisk
)
