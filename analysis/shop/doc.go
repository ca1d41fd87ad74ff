// Package shop says how a workshop stands on one day, by counting: what became of
// a month's pairs and what that cost, and which orders are worth a look.
//
//  1. [Account] is a month's pairs with their remakes, adjustments and returns, at
//     the same age as another month's where that is asked for.
//  2. [Remakes] lists a month's remade orders one by one; [Late] counts the remakes
//     of older months that were told of since a day.
//  3. [ToAsk] and [Puzzles] name orders to look at, and why.
//
// Nothing here is estimated: whether a month is unusual is told by package remakes.
package shop
