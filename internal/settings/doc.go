// Package settings holds what is in force when a verb does its work, and what the work meets outside.
//
// In: what the command line chose (Choice), a World of ports, folders and a terminal, the cards of the garage. Out:
// Settings, resolved once by Resolve, which never change; a chain's settings for a board, a capture, a table or a
// practice engine; what is learned of a board, on its card; and where what the garage can't take is kept.
//
// Begin with Resolve in settings.go, then BoardConfig in boardcard.go:
//
//	settings.go, world.go         what is in force; the outside: ports, clocks, terminal
//	boardcard.go, port.go         a board: its card and its passes, the port it is on
//	input.go, practice.go         captures and tables; practice bikes
//	room.go, files.go             what is kept elsewhere when the disk is full; files that the user names
package settings
