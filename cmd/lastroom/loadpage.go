package main

import (
	"fmt"
	"strings"

	"lastroom/ingest/load"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// loadPage says what a load did.
func loadPage(r *load.Report, rejects string) *page.Document {
	var l review.Loaded
	for _, s := range r.Sheets {
		l.Sheets = append(l.Sheets, review.LoadedSheet{Sheet: s.Sheet, File: s.File, Read: int(s.Read), Taken: int(s.Taken),
			Unchanged: int(s.Unchanged), Superseded: int(s.Superseded), KeptOut: int(s.KeptOut)})
	}
	for _, k := range r.KeptOut {
		l.Out = append(l.Out, review.KeptOut{File: k.File, Line: int(k.Line), Column: k.Column, Text: k.Text, Reason: k.Reason})
	}
	l.Notes = loadNotes(r, rejects)
	return review.LoadPage(l)
}

func loadNotes(r *load.Report, rejects string) (notes []string) {
	if r.Load == 0 {
		notes = append(notes, "All of these sheets are already in; the book is as it was.")
	}
	switch {
	case len(r.KeptOut) > 0 && rejects != "":
		notes = append(notes, "The rows kept out are in "+rejects+". Mend them there or in your sheets and load again: only what is new or changed is taken.")
	case len(r.KeptOut) > 0:
		notes = append(notes, "Mend the rows kept out in your sheets and load again: only what is new or changed is taken. With --rejects FILE they are written to a file.")
	}
	for _, s := range r.Sheets {
		if len(s.Unknown) > 0 {
			notes = append(notes, fmt.Sprintf("%s: columns not known here, left out: %s.", s.File, strings.Join(s.Unknown, ", ")))
		}
	}
	if len(r.Ignored) > 0 {
		notes = append(notes, "Files that are no order sheets, left alone: "+strings.Join(r.Ignored, ", ")+".")
	}
	return append(notes, r.Notes...)
}
