package main

import "github.com/inconshreveable/mousetrap"

// clicked says whether a person started the program from a desktop.
func clicked() bool { return mousetrap.StartedByExplorer() }
