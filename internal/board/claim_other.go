//go:build !linux && !darwin && !freebsd && !openbsd

package board

import "os"

// self is this process's number.
var self = os.Getpid()

// claim is empty: this system opens a serial port for one process only.
type claim struct{}

func claimPort(string) (*claim, error) { return &claim{}, nil }

func (*claim) opened() {}

func (*claim) release() {}

// notSerialKind is the kind of error when the library says that a port is not serial.
func notSerialKind(string) Kind { return NotSerial }
