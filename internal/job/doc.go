// Package job does what the verbs of the command line ask for: it joins a source of bytes, the
// settings in force, the stages, the display and the garage.
//
// Settings are resolved once, by Resolve, from what the command line chooses and what the cards say, and never change.
// A source gives a session its bytes: a board, a capture, or the practice engine. A run (live.go) shows a source on the
// screen, as plain lines or as JSON; the keeper decides when records are kept. What is done with a board before an
// engine runs is package commission; what is done with no engine running, package desk.
//
// In: what the command line chose (World, Options). Out: an exit status; text and JSON by package tell,
// pictures by screen and page, records and captures on the disk.
//
// Begin with Resolve in settings.go, then the type source in source.go, then Live in live.go:
//
//	settings.go, world.go                 what is in force; the outside: files, ports, clocks, terminal
//	source.go, port.go, replay.go,        where bytes come from
//	  input.go, bare.go
//	live.go, screen.go, lines.go,         how a run is shown: screen, plain lines, JSON, phones
//	  jsonlines.go, page.go
//	keep*.go, elsewhere.go, bike.go       when records are kept, and where; whose they are
//	stage.go, tune.go, heat.go            the stages after levelling, the watch for air leaks; idling and cooling
//	install.go, record.go                 the board program put on a board; captures taken
package job
