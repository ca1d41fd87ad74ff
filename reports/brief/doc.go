// Package brief says how the shop stands for someone who makes boots: the month in a
// sentence, its remakes one by one, what they cost, what was found and how sure that
// is, which orders to look at. No word of statistics is needed to read it; what the
// figures rest on stands in package review.
//
//  1. [Lead], [RunChart] and [Figures] are the month and its neighbours.
//  2. [Remakes], [Late] and the lists of [Shop] name orders.
//  3. [FindingBlocks] are what was found, in a said order.
//
// The first sheet of the review and the first page of the service are made of it.
package brief
