package session_test

import (
	"encoding/binary"
	"fmt"
	"strings"
)

// strangeBoard is a board written from PROTOCOL.md alone: it shares no code with the packages that read it.
type strangeBoard struct {
	n       int
	counter uint32
	tick    uint32 // µs
	seed    uint16
	layout  string
}

func newStrangeBoard(n int) *strangeBoard {
	b := &strangeBoard{n: n, layout: fmt.Sprintf("counter:u32 tick:u32 overflow:u16 count:u16*%d", n)}
	b.seed = strangeCRC(0xffff, []byte(b.layout))
	return b
}

// announce returns the frame that says what the board is.
func (b *strangeBoard) announce() []byte {
	var s strings.Builder
	fmt.Fprintf(&s, "evendraw-board 1\nmodel reference-avr\nserial stranger\nboot 0001\nprogram 1.0.0\nlayout %s\n"+
		"bits 10\nreference_mv 5000 ratiometric\nrate 1000\n", b.layout)
	for i := range b.n {
		fmt.Fprintf(&s, "channel %d pressure kPa %d\n", i, 112*i)
	}
	p := append([]byte{'A'}, s.String()...)
	return strangeCOBS(binary.LittleEndian.AppendUint16(p, strangeCRC(0xffff, p)))
}

// frame returns one frame of counts.
func (b *strangeBoard) frame(counts []uint16) []byte {
	p := binary.LittleEndian.AppendUint32([]byte{'D'}, b.counter)
	p = binary.LittleEndian.AppendUint32(p, b.tick)
	p = binary.LittleEndian.AppendUint16(p, 0)
	for _, c := range counts {
		p = binary.LittleEndian.AppendUint16(p, c)
	}
	b.counter++
	return strangeCOBS(binary.LittleEndian.AppendUint16(p, strangeCRC(b.seed, p)))
}

func strangeCRC(c uint16, b []byte) uint16 {
	for _, x := range b {
		c ^= uint16(x) << 8
		for range 8 {
			top := c & 0x8000
			if c <<= 1; top != 0 {
				c ^= 0x1021
			}
		}
	}
	return c
}

func strangeCOBS(p []byte) []byte {
	out, code := []byte{0, 1}, 1
	for _, b := range p {
		if b != 0 {
			out = append(out, b)
			out[code]++
		}
		if b == 0 || out[code] == 255 {
			code = len(out)
			out = append(out, 1)
		}
	}
	return append(out, 0)
}
