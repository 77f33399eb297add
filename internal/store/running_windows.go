package store

import (
	"errors"
	"syscall"
)

// Running reports whether there is a process of that number that has not ended: what is left of one that
// has is there as long as anyone holds it.
func Running(process int) bool {
	if process <= 0 {
		return false
	}
	p, err := syscall.OpenProcess(syscall.SYNCHRONIZE, false, uint32(process))
	if err != nil {
		return errors.Is(err, syscall.ERROR_ACCESS_DENIED)
	}
	defer syscall.CloseHandle(p)
	event, err := syscall.WaitForSingleObject(p, 0)
	return err == nil && event == syscall.WAIT_TIMEOUT
}
