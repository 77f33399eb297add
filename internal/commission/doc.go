// Package commission does with a board what comes before any engine runs: it puts the board program on
// it (install.go), asks what is connected (setup.go), looks whether it works (checkup.go), and takes
// the zero pass and the match pass (pass.go).
//
// In: a source of package job, which is a board or the practice engine. Out: the board's card, with the
// sensors, offsets and gains that were learned; and what is told meanwhile. Settings, ports and captures
// are those of package job.
//
// Begin with setup.go, which goes through all of it.
package commission
