// Package body says whether a set of numbers is a human foot and leg, and if
// not, which explanation fits: a number misread, digits exchanged, a wrong
// unit, a side copied, a tape not read from its start, a wrong height line.
//
// # The pipeline
//
//  1. A Form (or the columns of a Batch) is taken in: each Number finds its
//     coord, numbers that no foot or leg can have are set aside. The reading
//     step (1 mm, 1/8 in, …) is guessed from the numbers.
//  2. Forms with the same coords, sex, channel and step share a layout: the
//     joint log-Gaussian of all their numbers (world, term, gauss). The twelve
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
//  5. The Auditor stops here and answers Evidence for the order book. Check goes
//     on: expectation, interval and tail chance of each number given all the
//     others, posterior shares of the explanations and of "nothing wrong", what
//     each number would have been, notes and cautions. Earlier forms of the
//     same customer (Earlier) condition the joint model. Doubts rank the numbers
//     by what taking them again would settle.
//  6. Ranges (RangeOf, RangeOfRatio) are percentiles of single numbers and main
//     ratios; their limits are set for the whole form (Evidence.OutOfRange),
//     since 1st-99th percentiles of every number would flag one good form in
//     seven.
//  7. Calibrate estimates a shop's own offsets and spreads from its
//     unproblematic forms, shrunk towards the published values; Calibrated is
//     the model that uses them.
//
// # Published figures
//
// "Benchmark" is the report kept with the survey's rows (not part of this
// project); what it read elsewhere is named.
//
//	figure                                      value                      source
//	log means, log covariances by sex           tables/survey.csv          ANSUR II 2012 (Gordon CC et al. 2014, NATICK/TR-15/007), public
//	                                                                       individual-level release, development two thirds: 1,324 women,
//	                                                                       2,721 men; bare right feet, standing. Definitions: Hotzman et al.
//	                                                                       2011, NATICK/TR-11/017 (from memory)
//	girths lognormal rather than normal         tails.csv of the survey    benchmark, section 2
//	tails heavier than normal by 4 % kurtosis   t with 54 d.f. in Draw     benchmark, section 2 (Mardia)
//	reading error at home: ankle, calf          SD 4 mm                    derived from Tunc 2007 (Angiology 58:593), te Slaa 2011
//	                                                                       (Phlebology 26:14), Barrios 2016 (BMC Med Res Methodol 16:49)
//	left minus right: length                    SD 3.0 mm                  derived: up to 19 % of 2,890 people differ by more than 4 mm
//	                                                                       (SATRA 2018, second hand)
//	left minus right: calf                      SD 4.0 mm                  derived: 6 of 101 differ by 10 mm or more (Stein 1995, Chest 107)
//	30 mm between calves: caution               swellingMM                 item of the Wells score for deep vein thrombosis
//	leg profile, girths at 7, 9, 11, 13 in      258 313 366 392 mm (men)   derived S-curve, ±8 % at least, from the survey's landmark heights
//	height of the calf peak                     338 / 314 mm, ±30 / ±28    derived: 66 % of tibia length (Jaworski 2021, JMNI 21:215, for the
//	                                                                       site; that it is the largest: from memory)
//	girth below the knee                        0.935 of the peak          0.90-0.97, from memory
//	no link of instep and foot length           instep follows ball        Hill 2017 (Appl Ergon 59:243)
//	slips of keying, one field                  0.29 % (priorFault)        pooled over 93 studies (Garza et al., PMC13078370)
//	instep over ball                            1.06                       Golding 1902, worked example; 1.00-1.10 a judgement
//
// # Judgements
//
// Everything below is judged here or in the benchmark, not measured; a shop's
// own mature orders replace the first four (Calibrate).
//
//   - reading error at home: ball 4, heel 5, length 2.5, breadth 2, leg girth 4 mm;
//     half its variance common to both feet; dealer 0.85, shop 0.7 of it
//   - offsets: girths +3 (SD 2) mm, tracing +3 (SD 1.5) mm
//   - left minus right: ball 3.5, heel 3.5, ankle 3, breadth 2 mm; correlation 0.3
//   - leg profile: shape deviation 4.5 %, one leg against the other 1.5 %, height
//     of the tape SD 4 mm; least ankle 44 mm above the outer ankle bone
//   - instep SD 4 %; long heel and ankle over bones SD 8 % about a guessed mean
//   - the trouser layer: 13 mm, SD 5 a set and 4 a row
//   - drift a year: length 1, breadth 1, ball 2, heel 2, ankle 3, calf 6 mm
//   - parts of the faults (compile), a fifth of forms with a fault beforehand,
//     the sexes equally likely where unknown, a slip of no usual kind SD 12 %
//   - equal sides are taken as copied when honest ones would agree in under 0.5 %
//   - calibration: published spreads count as 40 forms, offsets differ by SD 4 mm,
//     own values from 30 forms on
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
