//go:build !unix

package screen

import "github.com/gdamore/tcell/v2"

// openScreen is tcell's screen on the terminal.
func openScreen() (tcell.Screen, error) { return tcell.NewScreen() }
