// Package session runs the stages over a stream of bytes, and publishes what they say as immutable
// Snapshots, the newest winning.
//
// In come a board's bytes (or a table's rows); out go readings, one for each cycle:
//
//	bytes → frame.Decoder → sensor.Converter → cycle.Tracker → balance.Balance → balance.Reading
//	                                                        ↘ mixture's stages → Tune
//
// Chain is that chain, free of clocks and goroutines: the same bytes give the same readings at any
// speed. Session runs a Chain over an io.Reader, and adds wall time and the link's phase. Begin with
// Chain.Feed, or with New, Session.Run and Session.Snapshot.
//
//	chain.go, feed.go            the stages joined; which bank and settings go with a board; what they take
//	recording.go, beside.go      a recording read by three goroutines, with the readings of one
//	tune.go, idle.go             idle speed, pilot screws and raised speed beside the levelling
//	zero.go, match.go            the passes that learn the sensors' offsets and gains
//	session.go, stale.go         phases of the link; figures too old to be shown
//	patience.go                  the end of a source that gives no frames
//	wave.go, summary.go,         one cycle for the screen; a whole run for its last line; what a
//	  journal.go                 record keeps of it
//	pace.go, renew.go            a capture at real speed; another bike's settings
package session
