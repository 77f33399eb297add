// Package job runs a session over a board, the practice engine or a capture, and shows it.
//
// A source (source.go) gives a session its bytes. A run (live.go) shows it on the screen, as plain lines or as JSON;
// when records are kept is decided in package keep. The settings in force are those of package settings. What is done
// with a board before an engine runs is package commission; what is done with no engine running, package desk.
//
// In: the settings in force, and what the command line says of a run (LiveOptions). Out: text and JSON by package tell,
// pictures by screen and page, records and captures on the disk.
//
// Begin with the type source in source.go, then Live in live.go:
//
//	source.go, port.go, replay.go, bare.go   where bytes come from
//	live.go, screen.go, lines.go,            how a run is shown: screen, plain lines, JSON, phones
//	  jsonlines.go, page.go
//	saving.go, bike.go                       what is saved, and how it is told; whose it is
//	heat.go                                  idling and cooling
//	stage.go, tune.go                        the stages after levelling, the watch for air leaks
//	record.go                                captures taken
package job
