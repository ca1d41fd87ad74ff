// Package human is what is published, and what has to be judged, of human feet
// and legs and of measuring them: percentiles of single numbers, and the joint
// model of all numbers that can stand on a form.
//
//  1. The survey's table (tables/survey.csv) gives the means and covariances of six
//     measures of right feet by sex, as logarithms of mm.
//  2. A [Measuring] says how written numbers differ from bodies: offsets of
//     socks and pencil, reading errors, left against right. [Published] gives it by
//     channel; a shop's own orders may replace it.
//  3. A [World] joins both for one sex, channel and reading step. Each number of
//     a form has a [Coord] and, in a world, a [Term]: one of the twelve core
//     numbers (moments.go), a leg girth (leg.go), or a number that follows
//     another loosely (coord.go).
//  4. [NewGauss] makes the log-Gaussian of a list of terms, [Given] that of the
//     first of them when the last are known.
//     It may hold the unusual kinds of people too (unusual.go).
//  5. [RangeOf] and [RangeOfRatio] are percentiles of single numbers and of main
//     ratios.
//  6. [Draw] invents honestly measured forms, for simulations and practice.
//
// # Published figures
//
// "Benchmark" is the report kept with the survey's rows (not part of this
// project); what it read elsewhere is named.
//
//	figure                                      value                      source
//	log means, log covariances by sex           tables/survey.csv          ANSUR II 2012 (Gordon CC et al. 2014, NATICK/TR-15/007), public
//	                                                                       individual-level release, development two thirds: 1,324 women,
//	                                                                       2,721 men; bare right feet, standing. Measures as named in that
//	                                                                       release
//	girths lognormal rather than normal         tails.csv of the survey    benchmark, section 2
//	tails heavier than normal by 4 % kurtosis   t with 54 d.f. in Draw     benchmark, section 2 (Mardia)
//	reading error at home: ankle, calf          SD 4 mm                    derived from Tunc 2007 (Angiology 58:593), te Slaa 2011
//	                                                                       (Phlebology 26:14), Barrios 2016 (BMC Med Res Methodol 16:49)
//	left minus right: length                    SD 3.0 mm                  derived: up to 19 % of 2,890 people differ by more than 4 mm
//	                                                                       (SATRA 2018, second hand)
//	left minus right: calf                      SD 4.0 mm                  derived: 6 of 101 differ by 10 mm or more (Stein 1995, Chest 107)
//	leg profile, girths at 7, 9, 11, 13 in      258 313 366 392 mm (men)   derived S-curve, ±8 % at least, from the survey's landmark heights
//	height of the calf peak                     338 / 314 mm, ±30 / ±28    derived: 66 % of tibia length, a site of calf scans (Jaworski 2021,
//	                                                                       JMNI 21:215); that the calf is largest there: a judgement
//	girth below the knee                        0.935 of the peak          a judgement (0.90-0.97)
//	no link of instep and foot length           instep follows ball        Hill 2017 (Appl Ergon 59:243)
//	instep over ball                            1.06                       Golding 1902, worked example; 1.00-1.10 a judgement
//
// # Judgements
//
// Everything below is judged here or in the benchmark, not measured; a shop's
// own mature orders replace the first four (package body, Calibrate).
//
//   - reading error at home: ball 4, heel 5, length 2.5, breadth 2, leg girth 4 mm;
//     half its variance common to both feet; dealer 0.85, shop 0.7 of it
//   - offsets: girths +3 (SD 2) mm, tracing +3 (SD 1.5) mm
//   - left minus right: ball 3.5, heel 3.5, ankle 3, breadth 2 mm; correlation 0.3
//   - leg profile: shape deviation 4.5 %, one leg against the other 1.5 %, height
//     of the tape SD 4 mm; least ankle 44 mm above the outer ankle bone
//   - instep SD 4 %; long heel and ankle over bones SD 8 % about a guessed mean
//   - unusual people: how many and how far (unusual.go)
//   - the trouser layer: 13 mm, SD 5 a set and 4 a row
//   - drift a year: length 1, breadth 1, ball 2, heel 2, ankle 3, calf 6 mm
package human
