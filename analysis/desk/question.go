package desk

import "lastroom/analysis/form"

// A Question is what the desk asks of the boot that was ordered and of its
// wearer; the answer is a cell of the orders sheet.
type Question struct {
	Column, Label string
	Answers       []string // no answer is always one
}

// YesNo are the answers to a question that has no others.
var YesNo = []string{"yes", "no"}

// Questions are all of them besides the shaft's height, in the order in which
// they are asked.
var Questions = []Question{
	{"closure", "closure", form.Closures},
	{"worn_tucked", "trousers worn inside", YesNo},
	{"sock", "sock", form.Socks},
	{"orthotic", "orthotic worn", YesNo},
	{"channel", "who measured", form.Texts(form.Channels)},
	{"sex", "range to judge by", form.Sexes},
}
