// Package commission does with a board what comes before any engine runs: it puts the board program on
// it (installer.go), asks what is connected (setup.go, by sampler.go), looks whether it works (checkup.go), and takes
// the zero pass and the match pass (pass.go).
//
// In: a board or the practice engine, and the settings in force. Out: the board's card, with the sensors, offsets and
// gains that were learned; and what is told meanwhile.
//
// Begin with setup.go, which goes through all of it.
package commission
