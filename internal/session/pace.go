package session

import (
	"context"
	"io"
	"time"

	"evendraw/internal/frame"
)

// Pace hands on the bytes of src no sooner than the ticks of their frames say,
// counted from the first: a capture, or the practice engine, at real speed.
type Pace struct {
	ctx   context.Context
	src   io.Reader
	dec   frame.Decoder
	begun bool
	start time.Time
	due   time.Duration // of the last frame, from the first
	last  frame.Frame
}

// NewPace returns a Pace over src; ctx ends its waiting.
func NewPace(ctx context.Context, src io.Reader) *Pace { return &Pace{ctx: ctx, src: src} }

// paceChunk is how many bytes are read at a time: some 20 ms of a four-channel
// board, so that they come as evenly as over a serial bridge.
const paceChunk = 512

// Read reads a piece of src, then waits until its last frame is due.
func (p *Pace) Read(b []byte) (int, error) {
	n, err := p.src.Read(b[:min(len(b), paceChunk)])
	p.dec.Feed(b[:n])
	for f, ok := p.dec.Next(); ok; f, ok = p.dec.Next() {
		switch {
		case !p.begun:
			p.begun, p.start = true, time.Now()
		case f.Segment == p.last.Segment:
			p.due += time.Duration(f.Tick-p.last.Tick) * time.Microsecond
		}
		p.last = *f
	}
	if p.begun {
		select {
		case <-time.After(time.Until(p.start.Add(p.due))):
		case <-p.ctx.Done():
			return n, context.Cause(p.ctx)
		}
	}
	return n, err
}
