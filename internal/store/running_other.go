//go:build !unix

package store

import "os"

// Running reports whether there is a process of that number: on Windows it can't be
// found otherwise.
func Running(process int) bool {
	p, err := os.FindProcess(process)
	if err != nil {
		return false
	}
	p.Release()
	return true
}
