//go:build !windows

package cli

// ownWindow reports whether the program's window ends with it.
func ownWindow() bool { return false }
