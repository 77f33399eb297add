package engine

import (
	"fmt"
	"slices"

	"evendraw/internal/frame"
)

// boardProgram is the version that the practice board announces.
const boardProgram = "1.0.0"

// board makes the bytes that a board would send.
type board struct {
	announcement []byte // ready to send
	seed         uint16
	frame        frame.Frame
	instant      uint64 // number of the next sampling instant
	rate         uint64
	delayUs      [frame.MaxChannels]uint32
	pending      []byte // not yet read
	read         int    // bytes of pending already read
}

// newBoard makes a board with n channels, those in use being for pressure.
func newBoard(n int, used []int, rate int, seed uint64) *board {
	b := &board{rate: uint64(rate), seed: frame.Seed(frame.Layout(n))}
	b.frame.N = n
	a := frame.Announcement{
		Protocol: frame.Version, Model: "practice", Serial: "PRACTICE",
		Boot: fmt.Sprintf("%04X", uint16(seed^seed>>16^seed>>32^seed>>48)), Program: boardProgram,
		Layout: frame.Layout(n), Bits: bits, ReferenceMV: referenceMV, Ratiometric: true, Rate: rate,
	}
	gap := min(channelGapUs, 1_000_000/rate*9/10/n) // all channels within nine tenths of the period
	for i := range n {
		b.delayUs[i] = uint32(i * gap)
		c := frame.Channel{Role: frame.Spare, Unit: "-", DelayUs: b.delayUs[i]}
		if slices.Contains(used, i) {
			c.Role, c.Unit = frame.Pressure, "kPa"
		}
		a.Channels = append(a.Channels, c)
	}
	b.announcement = frame.AppendAnnouncement(nil, &a)
	b.pending = make([]byte, 0, 2*len(b.announcement)+b.frameLen())
	return b
}

// frameLen is the most bytes that one data frame takes on the line.
func (b *board) frameLen() int { return 16 + 2*b.frame.N }

// send appends the frame whose counts have been filled in, and before it, once a
// second, the announcement.
func (b *board) send() {
	if b.instant%b.rate == 0 {
		b.pending = append(b.pending, b.announcement...)
	}
	b.frame.Counter = uint32(b.instant)
	b.frame.Tick = uint32(b.tickUs())
	b.pending = frame.AppendData(b.pending, b.seed, &b.frame)
	b.instant++
}

// tickUs is the time of the next sampling instant in µs, not wrapped.
func (b *board) tickUs() uint64 { return (b.instant*2_000_000/b.rate + 1) / 2 }

// take moves pending bytes to p.
func (b *board) take(p []byte) int {
	n := copy(p, b.pending[b.read:])
	if b.read += n; b.read == len(b.pending) {
		b.pending, b.read = b.pending[:0], 0
	}
	return n
}
