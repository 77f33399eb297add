package cli

import "github.com/inconshreveable/mousetrap"

// ownWindow reports whether the program was begun by a double click: its window then ends with it.
func ownWindow() bool { return mousetrap.StartedByExplorer() }
