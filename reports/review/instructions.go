package review

import (
	"lastroom/analysis/instructions"
	"lastroom/reports/page"
)

// instructionTable compares the versions of the instructions by the faults of
// their forms; nothing where there are not two of them.
func instructionTable(versions []instructions.Version) []page.Block {
	if len(versions) < 2 {
		return nil
	}
	t := page.Table{ID: "instructions", Caption: "Faults of the forms by version of the instructions", Columns: []page.Column{
		{Key: "version", Title: "Version"}, {Key: "forms", Title: "Forms", Numeric: true}, {Key: "faults_per_form", Title: "Faults a form", Numeric: true},
		{Key: "more_than_first", Title: "More than by the first, same channel", Numeric: true}, {Key: "words", Title: "In words"}}}
	for _, v := range versions {
		t.Rows = append(t.Rows, []page.Cell{page.Text(v.Version), page.CountOf(v.Forms, page.Ref{Kind: "forms", IDs: v.FormIDs}), page.Plain(v.PerForm, 2), page.Plain(v.More, 2), page.Text(v.Words)})
	}
	t.Rows[0][3] = page.Cell{} // it is compared with nothing
	t.Notes = append(page.Refusals(t.Rows), "The letter stands on the printed sheet, and in the column instructions of the forms sheet. Who gets which version is best drawn by lot; otherwise the forms may differ for other reasons.")
	t.Total = len(t.Rows)
	return []page.Block{t}
}
