//go:build darwin || freebsd || openbsd

package board

import "io/fs"

// checkTerminal does nothing: the library finds out whether fd is a serial port.
func checkTerminal(int) error { return nil }

// exclusiveHolder finds nobody: a port in exclusive mode can't be opened by us in the first place.
func exclusiveHolder(int, fs.FileInfo) (pid int, taken bool) { return 0, false }

func keepShared(int, fs.FileInfo) {}

// These systems don't show who has a node open.

func lockHolder(fs.FileInfo) int { return 0 }

func openHolder(fs.FileInfo, bool) int { return 0 }

func programName(int) string { return "" }

// controls is not asked here: /dev/tty and the standard streams say which terminal is ours.
func controls(int) bool { return false }
