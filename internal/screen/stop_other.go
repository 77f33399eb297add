//go:build !unix

package screen

// canStop is whether a program can be stopped and resumed.
const canStop = false

func stopSelf() {}

func watchSignals(_, _, _ func()) (end func()) { return func() {} }
