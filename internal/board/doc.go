// Package board finds the microcontroller that carries the sensors, opens its serial port so that no second program
// reads it too, waits until the board has said what it is, and finds it again after the lead was pulled.
//
// In: Options, and ports of the system. Out: a Link, an io.ReadCloser over the board's bytes. Begin reading at Open: it
// claims and opens a port (dial; claim_*.go), has a goroutine read it (pump.go), then waits for the announcement at one
// rate after the other (greet.go). Find (find.go) does so on all ports at once and takes the one board there is; Reopen
// (reopen.go) waits for the board of a Link that failed with Vanished; Listen opens a port without waiting,
// OpenTalk (talk.go) to speak to what is on it. List (ports*.go) lists ports.
//
// Every failure that a mechanic can cure is an *Error with a Kind (errors.go) and a Hint (hints.go).
package board
