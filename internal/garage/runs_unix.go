//go:build unix

package garage

import (
	"errors"
	"syscall"
)

// runs reports whether there is a process of that number.
func runs(process int) bool {
	err := syscall.Kill(process, 0)
	return process > 0 && (err == nil || errors.Is(err, syscall.EPERM))
}
