package sensor

import "evendraw/internal/frame"

// CheckupSeconds is how long a checkup watches. Chosen: as the check of a load
// cell on other machines, long enough for a rate to a thousandth.
const CheckupSeconds = 10.0

// ChannelCheckup is what a checkup found on one channel.
type ChannelCheckup struct {
	Least, Most int // raw counts
	Distinct    int // different counts seen
	// RailLow and RailHigh are the shares of frames on a rail, 0 to 1.
	RailLow, RailHigh float64
	Mean              float64 // counts
}

// Checkup looks at the raw counts of a board for ten seconds.
type Checkup struct {
	low, high uint16
	n         int
	frames    int
	ticks     uint64 // µs since the first frame
	last      frame.Frame
	seen      [MaxChannels][]bool
	sum       [MaxChannels]float64
	rails     [MaxChannels][2]int
	least     [MaxChannels]int
	most      [MaxChannels]int
}

// NewCheckup returns a checkup of the board that announced a.
func NewCheckup(a *frame.Announcement) *Checkup {
	c := &Checkup{n: len(a.Channels)}
	c.low, c.high = rails(a.Bits)
	for i := range c.n {
		c.seen[i] = make([]bool, 1<<a.Bits)
		c.least[i] = 1 << a.Bits
		c.most[i] = -1
	}
	return c
}

// Push takes one frame and reports whether CheckupSeconds have been seen, by the board's clock.
func (c *Checkup) Push(f *frame.Frame) (complete bool) {
	if c.frames > 0 && f.Segment == c.last.Segment {
		c.ticks += uint64(f.Tick - c.last.Tick)
	}
	c.last = *f
	c.frames++
	for i := range c.n {
		v := f.Counts[i]
		c.seen[i][v] = true
		c.sum[i] += float64(v)
		c.least[i], c.most[i] = min(c.least[i], int(v)), max(c.most[i], int(v))
		if v <= c.low {
			c.rails[i][0]++
		}
		if v >= c.high {
			c.rails[i][1]++
		}
	}
	return c.Seconds() >= CheckupSeconds
}

// Seconds returns how long the checkup has watched, by the board's clock.
func (c *Checkup) Seconds() float64 { return float64(c.ticks) * 1e-6 }

// Frames returns how many frames it saw.
func (c *Checkup) Frames() int { return c.frames }

// Rate returns the frames that came a second, by the board's clock; 0 before
// the second frame.
func (c *Checkup) Rate() float64 {
	if c.ticks == 0 {
		return 0
	}
	return float64(c.frames-1) / c.Seconds()
}

// Channels returns what was found, by channel.
func (c *Checkup) Channels() []ChannelCheckup {
	out := make([]ChannelCheckup, c.n)
	if c.frames == 0 {
		return out
	}
	n := float64(c.frames)
	for i := range out {
		out[i] = ChannelCheckup{Least: c.least[i], Most: c.most[i], Mean: c.sum[i] / n,
			RailLow: float64(c.rails[i][0]) / n, RailHigh: float64(c.rails[i][1]) / n}
		for _, s := range c.seen[i] {
			if s {
				out[i].Distinct++
			}
		}
	}
	return out
}
