package engine

import (
	"fmt"
	"math/rand/v2"
	"slices"

	"evendraw/internal/frame"
)

// boardProgram is the version that the practice board announces.
const boardProgram = "1.0.0"

// restartSilentS is how long a board that restarts sends nothing. Chosen: a boot
// loader's wait and a start.
const restartSilentS = 1.5

// board makes the bytes that a board would send.
type board struct {
	announcement []byte // ready to send
	about        frame.Announcement
	seed         uint16
	frame        frame.Frame
	instant      uint64 // number of the next sampling instant since the engine was made
	firstInstant uint64 // number of the first instant since the board's last start
	sent         uint64 // data frames handed to the line since then
	silentUntil  uint64 // instant
	announceAt   uint64 // instant
	rate         uint64
	delayUs      [frame.MaxChannels]uint32
	pending      []byte // not yet read
	read         int    // bytes of pending already read

	faults       Faults
	faultChance  *rand.Rand // nil on a good line
	restartEvery uint64     // instants between starts, 0 is never
	boot         uint16
}

// newBoard makes a board with n channels, those in use being for pressure; lambda is
// the probe's channel, or negative.
func newBoard(c *Config, n, lambda int, chance *rand.Rand) *board {
	rate, seed := c.Rate, c.Seed
	b := &board{rate: uint64(rate), seed: frame.Seed(frame.Layout(n)), faults: c.Faults}
	b.frame.N = n
	b.boot = uint16(seed ^ seed>>16 ^ seed>>32 ^ seed>>48)
	if c.Faults != (Faults{}) {
		b.faultChance = chance
		if s := c.Faults.RestartEveryS; s > 0 {
			b.restartEvery = uint64(max(s, 2*restartSilentS) * float64(rate))
		}
	}
	b.about = frame.Announcement{
		Protocol: frame.Version, Model: "practice", Serial: "PRACTICE", Program: boardProgram,
		Layout: frame.Layout(n), Bits: c.Bits, ReferenceMV: referenceMV, Ratiometric: true, Rate: rate,
	}
	gap := min(channelGapUs, 1_000_000/rate*9/10/n) // all channels within nine tenths of the period
	for i := range n {
		b.delayUs[i] = uint32(i * gap)
		ch := frame.Channel{Role: frame.Spare, Unit: "-", DelayUs: b.delayUs[i]}
		switch {
		case slices.Contains(c.Bank.Channels, i):
			ch.Role, ch.Unit = frame.Pressure, "kPa"
		case i == lambda:
			ch.Role, ch.Unit = frame.Lambda, "lambda"
		}
		b.about.Channels = append(b.about.Channels, ch)
	}
	b.start()
	b.pending = make([]byte, 0, 2*len(b.announcement)+2*b.frameLen())
	return b
}

// start prepares the announcement of a new start.
func (b *board) start() {
	b.about.Boot = fmt.Sprintf("%04X", b.boot)
	b.announcement = frame.AppendAnnouncement(nil, &b.about)
	b.firstInstant, b.sent, b.frame.Overflow = b.instant, 0, 0
	b.announceAt = b.instant
	b.boot++
}

// frameLen is the most bytes that one data frame takes on the line.
func (b *board) frameLen() int { return 16 + 2*b.frame.N }

// send appends the frame whose counts have been filled in, before it once a second the
// announcement, and applies the faults.
func (b *board) send() {
	defer func() { b.instant++ }()
	if b.restartEvery > 0 && b.instant > 0 && b.instant%b.restartEvery == 0 {
		b.silentUntil = b.instant + uint64(restartSilentS*float64(b.rate))
	}
	if b.instant < b.silentUntil {
		return
	}
	if b.silentUntil > 0 && b.instant == b.silentUntil {
		b.start()
	}
	if b.instant >= b.announceAt {
		b.announceAt += b.rate
		b.pending = append(b.pending, b.announcement...)
	}
	if b.happens(b.faults.Overflow) && b.sent > 0 {
		b.frame.Overflow++
		return
	}
	b.frame.Counter = uint32(b.sent)
	b.frame.Tick = uint32(b.tickUs())
	b.sent++
	if b.happens(b.faults.Lost) {
		return
	}
	begin := len(b.pending)
	b.pending = frame.AppendData(b.pending, b.seed, &b.frame)
	if b.happens(b.faults.BitErrors) {
		bit := b.faultChance.IntN(8 * (len(b.pending) - begin))
		b.pending[begin+bit/8] ^= 1 << (bit % 8)
	} else if b.happens(b.faults.Duplicated) {
		b.pending = frame.AppendData(b.pending, b.seed, &b.frame)
	}
}

// happens reports whether a fault of that probability happens; on a good line none does.
func (b *board) happens(probability float64) bool {
	return b.faultChance != nil && b.faultChance.Float64() < probability
}

// tickUs is the time of the next sampling instant in µs since the board's start, not
// wrapped.
func (b *board) tickUs() uint64 { return ((b.instant-b.firstInstant)*2_000_000/b.rate + 1) / 2 }

// take moves pending bytes to p.
func (b *board) take(p []byte) int {
	n := copy(p, b.pending[b.read:])
	if b.read += n; b.read == len(b.pending) {
		b.pending, b.read = b.pending[:0], 0
	}
	return n
}
