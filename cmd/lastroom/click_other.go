//go:build !windows

package main

import (
	"cmp"
	"os"
	"runtime"
)

// clicked says whether a person started the program from a desktop: there is no
// terminal, but a screen.
func clicked() bool {
	if isTerminal(os.Stdin) || isTerminal(os.Stdout) || isTerminal(os.Stderr) {
		return false
	}
	return runtime.GOOS == "darwin" || cmp.Or(os.Getenv("WAYLAND_DISPLAY"), os.Getenv("DISPLAY")) != ""
}
