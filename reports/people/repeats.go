package people

import (
	"fmt"
	"math"

	"lastroom/analysis/form"
	"lastroom/analysis/repeatability"
	"lastroom/analysis/stats"
	"lastroom/reports/page"
	"lastroom/reports/review"
)

// RepeatsPage is the study of training sessions as a document of its own. Its first
// table has one row a spot.
func RepeatsPage(s repeatability.Study) *page.Document {
	p := &page.Document{Title: "How well the tape is read", Lead: repeatsLead(s), Cautions: []string{review.PrivateData, review.NoDiagnosis}}
	p.Sections = []page.Section{
		{ID: "spots", Title: "Where the tape lay", Blocks: []page.Block{spotsTable(s), agreementTable(s), formsTable(s)}},
		{ID: "parts", Title: "Where the spread comes from", Blocks: []page.Block{
			page.Prose{"Legs differ, and that is what is to be measured. What is left is error: of one who always reads more or less than the others, of one who does so on some legs only, as when the tape lies at another height, and of every single trial."},
			componentsTable(s),
		}},
		{ID: "habits", Title: "Habits", Blocks: []page.Block{
			page.Prose{"Who pulls the tape tighter reads every girth of the leg short by as much. Who tapes higher up reads it long where the leg widens and short where it narrows. So the two can be told apart where a leg was taken at several heights."},
			habitsTable(s),
		}},
		{ID: "need", Title: "What a boot needs", Blocks: []page.Block{neededTable(s), accuracyTable(), page.Prose(howMany(s))}},
	}
	if len(s.Warnings) > 0 {
		p.Sections = append(p.Sections, page.Section{ID: "warnings", Title: "To bear in mind", Blocks: []page.Block{page.Prose(s.Warnings)}})
	}
	return p
}

func repeatsLead(s repeatability.Study) string {
	if s.Measurers == 0 {
		return "No training session is in the book: load a repeats sheet, or hold a measuring session."
	}
	within, outside, open := 0, 0, 0
	for _, p := range s.Points {
		switch p.Within {
		case "yes":
			within++
		case "no":
			outside++
		default:
			open++
		}
	}
	return fmt.Sprintf("%s in %s took %s beside each other. They agree with the instructor within what a boot tolerates at %d of %s, at %d they do not, and at %d it can't be told yet.",
		page.Counted(s.Measurers, "measurer", "measurers"), page.Counted(s.Sessions, "session", "sessions"), page.Counted(s.Legs, "leg", "legs"),
		within, page.Counted(len(s.Points), "place of the tape", "places of the tape"), outside, open)
}

// place names a spot.
func place(point string, height float64) string {
	if math.IsNaN(height) {
		return point
	}
	return point + " at " + form.Height(height).String()
}

func spotsTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "spots", Caption: "All measurers, at each place of the tape", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "n", Title: "Numbers", Numeric: true},
		{Key: "tem_mm", Title: "Technical error", Unit: "mm", Numeric: true}, {Key: "relative_tem", Title: "Of the girth", Unit: "%", Numeric: true},
		{Key: "bias_mm", Title: "Against the instructor", Unit: "mm", Numeric: true},
		{Key: "tolerance_mm", Title: "Tolerated", Unit: "mm", Numeric: true}, {Key: "within_tolerance", Title: "Within it"}}}
	for _, p := range s.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(place(p.Point, float64(p.Height))), page.Count(p.N), page.Plain(p.TEM, 1), page.Percent(p.Relative),
			page.Plain(p.Bias, 1), page.Number(p.Tolerance.MM, 0), page.Text(p.Within)})
	}
	t.Notes = append(page.Refusals(t.Rows),
		"Technical error: how far readings of one leg by one measurer lie from each other; 19 of 20 repeats lie within 2.8 times it.",
		"Within it: the whole 95 % interval of the mean difference lies inside what is tolerated, as ISO 20685 tests it.")
	t.Total = len(t.Rows)
	return t
}

func agreementTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "agreement", Caption: "How far single readings by different people agree", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "between_tem_mm", Title: "Apart", Unit: "mm", Numeric: true},
		{Key: "reliability", Title: "Reliability", Numeric: true}, {Key: "icc", Title: "ICC(A,1)", Numeric: true}}}
	for _, p := range s.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(place(p.Point, float64(p.Height))), page.Plain(p.Between, 1), page.Plain(p.Reliability, 3), page.Plain(p.ICC, 3)})
	}
	t.Notes = append(page.Refusals(t.Rows),
		"Apart: the technical error between measurers. Reliability and the intraclass correlation ICC(A,1): the share of the spread that is the legs', by one reading of each measurer and by the parts below; 1 is no error.")
	t.Total = len(t.Rows)
	return t
}

// formsTable has the textbook's six intraclass correlations of the fullest session.
func formsTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "icc-forms", Caption: "Intraclass correlations of the session with most people and legs", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "session", Title: "Session"}, {Key: "icc_1", Title: "ICC(1)", Numeric: true}, {Key: "icc_a1", Title: "ICC(A,1)", Numeric: true},
		{Key: "icc_c1", Title: "ICC(C,1)", Numeric: true}, {Key: "icc_k", Title: "ICC(k)", Numeric: true}, {Key: "icc_ak", Title: "ICC(A,k)", Numeric: true}, {Key: "icc_ck", Title: "ICC(C,k)", Numeric: true}}}
	for _, p := range s.Points {
		row := []page.Cell{page.Text(place(p.Point, float64(p.Height))), page.AsIs(p.Session)}
		for _, e := range []stats.Estimate{p.Forms.OneWay1, p.Forms.Agreement1, p.Forms.Consistency1, p.Forms.OneWayK, p.Forms.AgreementK, p.Forms.ConsistencyK} {
			row = append(row, page.Plain(e, 2))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = append(page.Refusals(t.Rows), "For those who know them: of one reading (1) and of the mean of all people's (k); A counts who always reads more or less as error, C does not; without a letter, by others each time. McGraw and Wong (1996).")
	t.Total = len(t.Rows)
	return t
}

func componentsTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "components", Caption: "Parts of the spread of one reading, as standard deviations", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "subject_mm", Title: "Legs", Unit: "mm", Numeric: true}, {Key: "measurer_mm", Title: "Measurers", Unit: "mm", Numeric: true},
		{Key: "measurer_on_leg_mm", Title: "A measurer on one leg", Unit: "mm", Numeric: true}, {Key: "trial_mm", Title: "Trials", Unit: "mm", Numeric: true}}}
	for _, c := range s.Components {
		t.Rows = append(t.Rows, []page.Cell{page.Text(place(c.Point, float64(c.Height))), page.Plain(c.Subject, 1), page.Plain(c.Measurer, 1), page.Plain(c.MeasurerOnLeg, 1), page.Plain(c.Trial, 1)})
	}
	t.Notes = append(page.Refusals(t.Rows), "By restricted maximum likelihood, with profile likelihood intervals.")
	t.Total = len(t.Rows)
	return t
}

func habitsTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "habits", Caption: "Each measurer's tape against the instructor's, on the leg", Columns: []page.Column{
		{Key: "measurer", Title: "Measurer"}, {Key: "legs", Title: "Legs", Numeric: true}, {Key: "tightness_mm", Title: "Reads more", Unit: "mm", Numeric: true},
		{Key: "height_mm", Title: "Tapes higher", Unit: "mm", Numeric: true}, {Key: "says", Title: "In words"}}}
	for _, h := range s.Habits {
		t.Rows = append(t.Rows, []page.Cell{page.AsIs(h.Measurer), page.Count(h.Legs), page.Plain(h.Tightness, 1), page.Plain(h.Height, 0), page.Text(h.Says)})
	}
	t.Notes = page.Refusals(t.Rows)
	t.Total = len(t.Rows)
	return t
}

// MeasuredTable is how one measurer read each spot.
func MeasuredTable(measured []repeatability.Measured) page.Table {
	t := page.Table{ID: "measurer-repeats", Caption: "Repeated measurements", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "subjects", Title: "Legs taken twice", Numeric: true}, {Key: "tem_mm", Title: "Technical error", Unit: "mm", Numeric: true},
		{Key: "bias_mm", Title: "Against the instructor", Unit: "mm", Numeric: true}, {Key: "lower_limit_mm", Title: "19 of 20 differences from", Unit: "mm", Numeric: true},
		{Key: "upper_limit_mm", Title: "to", Unit: "mm", Numeric: true}, {Key: "tolerance_mm", Title: "Tolerated", Unit: "mm", Numeric: true}, {Key: "within_tolerance", Title: "Within it"},
		{Key: "legs_needed", Title: "Legs for a verdict", Numeric: true}}}
	for _, e := range measured {
		legs := page.Cell{}
		if e.LegsNeeded > 0 {
			legs = page.Count(e.LegsNeeded)
		}
		t.Rows = append(t.Rows, []page.Cell{page.Text(place(e.Point, float64(e.HeightMM))), page.Count(e.Subjects), page.Plain(e.TEM, 1), page.Plain(e.Bias, 1), page.Plain(e.Lower, 1), page.Plain(e.Upper, 1),
			page.Number(e.Tolerance.MM, 0), page.Text(e.Within), legs})
	}
	t.Notes = append(page.Refusals(t.Rows), "Legs for a verdict: so many beside the instructor, and the mean difference is known to half of what is tolerated.")
	t.Total = len(t.Rows)
	return t
}

// neededTable sets the technical error beside what boots have tolerated.
func neededTable(s repeatability.Study) page.Table {
	t := page.Table{ID: "needed", Caption: "The technical error beside what this shop's boots have tolerated", Columns: []page.Column{
		{Key: "place", Title: "Place"}, {Key: "tem_mm", Title: "Technical error", Unit: "mm", Numeric: true}, {Key: "kept_mm", Title: "Kept boots", Unit: "mm", Numeric: true},
		{Key: "kept_n", Title: "Feet or legs", Numeric: true}, {Key: "tolerance_mm", Title: "ISO 20685, for a mean", Unit: "mm", Numeric: true}}}
	for _, p := range s.Points {
		t.Rows = append(t.Rows, []page.Cell{page.Text(place(p.Point, float64(p.Height))), page.Plain(p.TEM, 1), page.Plain(p.Kept, 1), page.Count(p.Kept.N), page.Number(p.Tolerance.MM, 0)})
	}
	t.Notes = append(page.Refusals(t.Rows), "Kept boots: how far the numbers of one person's forms lay apart where two pairs were cut and both were kept without complaint, as a standard deviation. Boots tolerated at least that much.")
	t.Total = len(t.Rows)
	return t
}

// accuracyTable is what others read, as a yardstick.
func accuracyTable() page.Table {
	t := page.Table{ID: "published", Caption: "How well others read a tape", Columns: []page.Column{{Key: "what", Title: "What"}, {Key: "figure", Title: "Figure"}, {Key: "source", Title: "Source"}}}
	for _, p := range repeatability.PublishedErrors {
		t.Rows = append(t.Rows, []page.Cell{page.Text(p.What), page.Text(p.Figure), page.Text(p.Source)})
	}
	t.Total = len(t.Rows)
	return t
}

func howMany(s repeatability.Study) []string {
	return []string{
		fmt.Sprintf("%d legs, each taken twice, tell a technical error to within half of itself upwards.", s.LegsForTEM),
		"Tolerated are 2 mm of length and breadth, 4 mm of a girth of the foot or ankle and 9 mm of one of the leg: the greatest mean difference from a skilled measurer that ISO 20685 allows, as told by Kouchi and Mochimaru (Anthropometry, Apparel Sizing and Design).",
	}
}
