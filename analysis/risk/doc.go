// Package risk tells how likely an order is to be remade within a year, as it is seen on
// the day of cutting.
//
//  1. [CasesOf] takes a [Case] from each row of a cohort: the order, its form, what was
//     known of the customer. Its columns are coded as terms (coding.go).
//  2. [Learn] fits a [Model] to them, ridge logistic regression with the penalties of
//     shrink.go, and makes its [Validation]: risks of later orders held against what became of
//     them and against simpler rivals (validate.go), and what holding by them brings
//     (decide.go). Both are a [Learnt], which is kept beside the book and holds no person.
//  3. [Learnt.Of] says the risk of a case: the model's where it beats its rivals, otherwise
//     the usual share, with its reasons and what mending its faults would bring (explain.go).
//     [Learnt.ReportOn] does so for many orders, [Learnt.FallsOfFirst] for first forms.
//  4. [Learnt.Stale] says when it is fitted anew; [Follow] how past risks came true.
//
// It stands on package regression for every fit, and on package remakes for what a remake is
// and how long an order is followed up.
package risk
