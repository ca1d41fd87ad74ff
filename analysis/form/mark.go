package form

// A Mark is a yes-or-no column of the forms sheet that tells of a noted fault.
type Mark struct {
	Column string
	Label  string // what a yes says
	Fault  string // the fault that it tells of
	Yes    bool   // a yes makes the fault; of the others a no does
}

// Marks are all of them, in the order of the sheet but for the first.
var Marks = []Mark{
	{"outline_closed_left", "left outline without a gap", "outline-broken", false},
	{"outline_closed_right", "right outline without a gap", "outline-broken", false},
	{"outline_single_left", "left outline one line only", "outline-doubled", false},
	{"outline_single_right", "right outline one line only", "outline-doubled", false},
	{"ball_mark_left", "left ball mark on the tracing", "tape-marks-missing", false},
	{"ball_mark_right", "right ball mark on the tracing", "tape-marks-missing", false},
	{"instep_mark_left", "left instep mark on the tracing", "tape-marks-missing", false},
	{"instep_mark_right", "right instep mark on the tracing", "tape-marks-missing", false},
	{"tape_zero_used", "tape read from its start line", "tape-zero-missed", false},
	{"self_measured", "the wearer taped themselves", "self-measured", true},
	{"orthotic_discussed", "orthotic talked over", "orthotic-undiscussed", false},
}
