// Package body says whether a set of numbers is a human foot and leg.
package body
