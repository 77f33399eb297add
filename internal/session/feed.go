package session

import (
	"fmt"

	"evendraw/internal/capture"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
)

// trouble is why a decoder gives no frames.
type trouble struct {
	failure    error
	standstill *frame.Standstill
}

// Feed takes the next bytes of a board. An error means that nothing further
// can be read: a bank and a board that don't match.
func (c *Chain) Feed(p []byte) error {
	c.dec.Feed(p)
	c.dec.Take(&c.batch)
	return c.take(&c.batch)
}

// Finish tells that the stream has ended.
func (c *Chain) Finish() error {
	c.dec.Finish()
	c.dec.Take(&c.batch)
	return c.take(&c.batch)
}

// take takes what a decoder made of the next bytes.
func (c *Chain) take(b *frame.Batch) error {
	b.Stretches(func(frames []frame.Frame, k *frame.Known) bool {
		c.known = *k
		for i := range frames {
			if c.err != nil {
				break
			}
			if i > 0 {
				c.known.Stats.Frames++
			}
			c.pushFrame(&frames[i], k.Board)
		}
		return c.err == nil
	})
	if c.err == nil {
		c.known = b.End
	}
	c.trouble = trouble{b.Failure, b.Standstill}
	c.noteLink()
	return c.err
}

// takeRow takes a row of a table, which may be read further by now: stats are as of the row. bits are the converter's,
// for counts.
func (c *Chain) takeRow(t *capture.Table, r *capture.Row, stats capture.Stats, bits int) error {
	if c.rows == nil {
		c.rows = t
		if c.err = c.useBoard(t.Board(bits)); c.err != nil {
			return c.err
		}
	}
	k := &c.known.Stats
	k.Frames, k.Lost, k.Gaps, k.Duplicates = stats.Rows, stats.Lost, stats.Gaps, stats.Duplicates
	switch t.Quantity {
	case capture.Counts:
		for i, v := range r.Values {
			if int(v)>>bits != 0 {
				return r.Wrong(fmt.Sprintf("count %v of channel %d does not fit %d bits; it fits those of --bits %d",
					v, i, bits, bitsFor(int(v))))
			}
		}
		f := r.Frame()
		c.pushFrame(&f, c.board)
	case capture.Volts:
		s := c.cfg.Setup.FromVolts(r.Time, r.Values)
		c.pushRow(&s, r)
	case capture.KPa:
		s := c.cfg.Setup.FromKPa(r.Time, r.Values)
		c.pushRow(&s, r)
	}
	c.noteLink()
	return c.err
}

// bitsFor returns the bits of the coarsest usual converter that gives such a count.
func bitsFor(count int) (bits int) {
	for bits = 10; count>>bits != 0; bits += 2 {
	}
	return bits
}

func (c *Chain) pushRow(s *sensor.Sample, r *capture.Row) {
	if r.Lost > 0 {
		s.Gap = float64(r.Lost) * c.rows.Interval()
	}
	c.lambdaOfRow(c.rows, r)
	c.pushSample(s)
}
