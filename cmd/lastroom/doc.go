// Lastroom reads a boot workshop's order sheets into an order book and says which faults
// of measuring forms go with remakes. Its manual is README.md, and lastroom COMMAND --help.
//
//  1. main makes the process one for a person's SQL, or for a load of the service, where
//     it was started as one; otherwise it calls run.
//  2. root gathers the commands, a file each or a few of one kind. A command turns its
//     flags (flags.go) into a question to package workshop, which knows no flags.
//  3. What it answers is printed in the form that was asked for (print.go); progress and
//     talk go to standard error (progress.go).
//  4. workshop.Failure turns what went wrong into the exit status and words for people.
package main
