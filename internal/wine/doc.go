// Package wine runs the program as Windows does, under Wine: the tests' way to try what was built for
// Windows. Only tests and .ci/run use it.
//
// In: a program for Windows, and a folder. Out: a Prefix in that folder, Wine's Windows, whose Command
// starts the program and whose Ports are what is plugged in. Wine is not Windows: its console shows the
// picture's escape sequences as letters, a port is not shut to a second program, and a read of one
// waits, without a time-out, until all the bytes that there is room for have come.
package wine
