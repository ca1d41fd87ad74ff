// Package body says whether a set of numbers is a human foot and leg, and if
// not, which explanation fits: a number misread, digits exchanged, a wrong
// unit, a side copied, a tape not read from its start, a wrong height line.
//
// # The pipeline
//
//  1. A form.Form (or the columns of a Batch) is taken in: each Number finds its
//     place, numbers that no foot or leg can have are set aside. The reading
//     step (1 mm, 1/8 in, …) is guessed from the numbers.
//  2. Forms with the same places, sex, channel and step share a layout: the
//     joint log-Gaussian of all their numbers (package human). The twelve
//     core numbers (length, breadth, ball, heel, ankle, calf of both feet) come
//     from the survey with the measuring model; leg girths by height from the
//     leg profile; instep, long heel and ankle over the bones follow loosely.
//     Sex unknown: women's and men's model, equally likely beforehand.
//  3. Each hypothesis (compile lists them) is a fault on a target. Its ratio is
//     the density of the undone form over that of the written one, times the
//     Jacobian of undoing. Missing numbers are marginalised by leaving out
//     their rows.
//  4. The alarm score is the logarithm of the weighted mean ratio, put on the
//     scale of good forms by their tail: minus the base-10 logarithm of the
//     share of good forms that look at least as odd. The tails (tables/tails.csv)
//     are drawn from the model with seeds, never from labelled cases; they hold
//     for the core numbers. What the numbers beyond the core say uses Markov's
//     inequality: a mean likelihood ratio reaches x in at most 1/x of good forms.
//     Good forms are those of usual and of unusual healthy people (human.Gauss.Law);
//     a shop's confirmed forms widen the limit (confirmed.go).
//  5. The Auditor stops here and answers Evidence for the order book. Check goes
//     on: expectation and interval of each number given all the others, posterior shares of the explanations and of "nothing wrong", what
//     each number would have been, notes and cautions. Earlier forms of the
//     same customer (Earlier) condition the joint model. Doubts rank the numbers
//     by what taking them again would settle.
//  6. Evidence.OutOfRange sets limits of single numbers and main ratios for the
//     whole form, since 1st-99th percentiles of every number would flag one good
//     form in seven.
//  7. Calibrate estimates a shop's own offsets and spreads from its
//     unproblematic forms, shrunk towards the published values; Calibrated is
//     the model that uses them.
//
// # Figures and judgements
//
// Those of people and of measuring stand in package human. Here:
//
//   - slips of keying, 0.29 % of fields, pooled over 93 studies (Garza et al.,
//     PMC13078370), lie behind the share of faulty forms; that share, a fifth, is
//     a judgement
//   - parts of the faults (compile), the sexes equally likely where unknown, a slip
//     of no usual kind SD 12 %
//   - equal sides are taken as copied when honest ones would agree in under 0.5 %
//   - calibration: published spreads count as 40 forms, offsets differ by SD 4 mm,
//     own values from 30 forms on; the published share of odd forms counts as that
//     of 100 forms beside a shop's confirmed ones
//
// # Limits
//
// Soldiers of 17 to 58 are not the public: tails of ankle and calf are too
// narrow, above all for heavy, older or swollen legs. A number outside is a
// question, never a verdict. Left feet are the survey's right feet plus an
// assumed difference. No children. A common shift of 10 mm, a ball tape 5 %
// short on both feet and a leaning pencil are close to invisible in these
// numbers: ask for a repeat instead.
package body
