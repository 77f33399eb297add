package practice

import "io"

// handed calls a function before each read.
type handed struct {
	src    io.Reader
	before func()
}

// Handed is a practice engine's bytes with a hand that acts before each piece is read.
func Handed(src io.Reader, before func()) io.Reader { return &handed{src, before} }

// handedBytes is the most that is read at once: what a hand does comes no later than that.
const handedBytes = 512

func (h *handed) Read(b []byte) (int, error) {
	h.before()
	return h.src.Read(b[:min(len(b), handedBytes)])
}
