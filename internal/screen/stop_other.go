//go:build !unix

package screen

// canStop tells that a program can be stopped and called again.
const canStop = false

func stopSelf() {}

func watchStops(func()) (end func()) { return func() {} }
