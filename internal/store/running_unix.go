//go:build unix

package store

import (
	"errors"
	"syscall"
)

// Running reports whether there is a process of that number.
func Running(process int) bool {
	err := syscall.Kill(process, 0)
	return process > 0 && (err == nil || errors.Is(err, syscall.EPERM))
}
