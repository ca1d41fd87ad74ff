// Package regression is the one regression engine: logistic regression of an
// event on weighted covariate patterns, for subjects that are followed for
// different times, and what may be asked of such a model.
//
//  1. [NewDesign] turns [Subjects], [Term]s and [Exposure]s into covariate
//     patterns: subjects that look alike to the model are one row of a sparse matrix
//     (package sparse) with a weight.
//     [Design.Split] parts them further, for one more exposure.
//  2. [Design.Whole] are the [Weights] of the subjects as they are, and the share
//     of events reported by an age (followup.go); a [Resampler] draws clusters.
//  3. [Design.Fit] is a [Fit]: maximum likelihood, or Firth's penalised
//     likelihood where events are few or the data separate. It refuses where
//     there is no answer.
//  4. [Model.Standardise] answers each [Question] about an exposure with an [Effect]:
//     the mean risk with it on everyone and on no one.
//  5. [NewLinearization] is the model's straight-line neighbourhood: how an answer
//     moves with the estimates and with each cluster's weight ([Jackknife]).
//  6. A [Refitter] answers all questions again on each bootstrap sample; [BCa],
//     [Percentile] and [Jackknife.Interval] turn the lot into intervals.
//
// Beside that, [Design.Impute] puts in outcomes of subjects who did not say, and
// carries the uncertainty of the model of the others along.
//
// It knows nothing of boots. It panics on nothing that NewDesign has taken; a
// number that has no answer is NaN or an error.
package regression
