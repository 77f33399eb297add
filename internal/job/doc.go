// Package job does what the verbs of the command line ask for: it joins a source of bytes, the
// settings in force, the stages, the display and the garage.
//
// Settings are resolved once, by Resolve, from what the command line chooses and what the cards
// say, and never change. A source gives a session its bytes: a board, a capture, or the practice
// engine. A run (live.go) shows a source on the screen, as plain lines or as JSON; the keeper
// decides when records are kept. What is done with a board before an engine runs is package commission.
//
// Begin with Settings, then source.go and live.go.
package job
