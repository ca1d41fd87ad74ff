// Package sensitivity asks how far findings rest on what nobody knows.
//
//  1. [Silent]: orders of which nobody sent word count as kept. What if they had
//     been remade more often? The share of remakes, each fault's effect and each
//     rule's worth for factors that the reader sets, and the factor at which a
//     conclusion turns (tipping.go).
//  2. [Unjudged]: on some forms nobody could tell whether a fault is there. The
//     complete cases beside the worst case (bounds.go) and multiple imputation
//     (impute.go).
//
// The figures come from the models of packages remakes and rules, told other
// outcomes or other faults; nothing is modelled twice.
package sensitivity
