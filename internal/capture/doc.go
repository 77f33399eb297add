// Package capture reads and writes captures, the untouched bytes of a board under a small text head,
// and reads tables from other loggers.
//
// In: a stream, compressed with gzip or not. Out: an Input, which is either a Head with the board's
// Bytes, or a Table of rows. Begin reading at Open. A capture is
//
//	# evendraw capture 1
//	# key: value
//	#
//	the board's bytes
//
// The other way, Create begins a File while a board is read (file.go): it never waits for the disk, and
// says how much a crash can lose. WriteHead writes a head to anything else, Pack compresses a finished
// capture (pack.go). Tables are in table.go.
package capture
