package session

import (
	"context"
	"io"
	"time"

	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/frame"
)

// A recording is read by three goroutines, so that two cores share the work: one reads and decodes, one finds the
// cycles, one makes readings of them. What they hand on keeps its order, in a few buffers that are used again: the
// readings are those of one goroutine.
const (
	// pieceBytes and pieceRows are what is decoded at once, and pieces how many such pieces there are. Chosen: a
	// hand-over costs far less than what is handed over. Measured: a quarter of it costs 3 to 5 % more time.
	pieceBytes = 64 << 10
	pieceRows  = 1024
	pieces     = 4
)

// piece is a stretch of a recording, decoded.
type piece struct {
	batch frame.Batch
	rows  []tableRow
	err   error // the source's, after it; io.EOF at the end
}

// tableRow is a row of a table with the counters as of it.
type tableRow struct {
	row   capture.Row
	stats capture.Stats
}

// RunRecording reads a capture or a table to its end, as fast as the machine goes. Nothing else may be asked of the
// session meanwhile; it publishes one Snapshot, at the end. Options.OnReading is called in another goroutine, in
// order, and may ask the chain for its Config, Bank and Link alone. Options.Until, Patience and Tee are not looked at.
func (s *Session) RunRecording(ctx context.Context, in *capture.Input) error {
	s.mu.Lock()
	err := s.readPieces(ctx, in)
	if s.chain.link.Frames > 0 {
		s.noteFrames(time.Now())
	}
	s.mu.Unlock()
	return s.end(Ended, err)
}

// readPieces has the input decoded ahead, and gives the chain what comes.
func (s *Session) readPieces(ctx context.Context, in *capture.Input) error {
	if c, ok := in.Bytes.(io.Closer); ok {
		end := context.AfterFunc(ctx, func() { c.Close() })
		defer end()
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	free, full := make(chan *piece, pieces), make(chan *piece, pieces)
	for range pieces {
		free <- new(piece)
	}
	go decodeAhead(ctx, in, free, full)
	c := s.chain
	c.beside = newBeside(c.pushSpanOf)
	defer func() {
		c.letGo()
		c.beside.end()
		c.beside = nil
		c.noteLink()
	}()
	for {
		var p *piece
		select {
		case p = <-full:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
		err := c.takePiece(in.Table, p, s.opt.Bits)
		switch {
		case err != nil:
			return err
		case p.err == io.EOF:
			c.endRecording()
			return nil
		case p.err != nil:
			return p.err
		}
		free <- p
	}
}

// takePiece takes all of a piece.
func (c *Chain) takePiece(t *capture.Table, p *piece, bits int) error {
	if t == nil {
		return c.take(&p.batch)
	}
	for i := range p.rows {
		r := &p.rows[i]
		if err := c.takeRow(t, &r.row, r.stats, bits); err != nil {
			return err
		}
	}
	return nil
}

// holdSpan takes a span of a recording beside which readings are made. Those of its start are held back: should it end
// soon, more may be found in it.
func (c *Chain) holdSpan(span *cycle.Span) {
	if c.tracker.IsShort() {
		c.held = append(c.held, spanOf{*span, c.linkNow()})
		return
	}
	c.letGo()
	c.beside.hand(span, c.linkNow())
}

// letGo hands on the spans that were held back.
func (c *Chain) letGo() {
	for i := range c.held {
		c.beside.hand(&c.held[i].span, c.held[i].link)
	}
	c.held = nil
}

// endRecording tells the tracker that the recording has ended, and hands on what it then finds in a short one.
func (c *Chain) endRecording() {
	if c.tracker == nil || c.tune.lambda != nil {
		return
	}
	if cycles := c.tracker.Finish(); cycles != nil {
		c.held = nil
		for i := range cycles {
			c.held = append(c.held, spanOf{cycles[i], c.linkNow()})
		}
	}
	c.letGo()
}

// decodeAhead fills pieces with what the input holds, until its end or that of ctx.
func decodeAhead(ctx context.Context, in *capture.Input, free <-chan *piece, full chan<- *piece) {
	var dec frame.Decoder
	buf := make([]byte, pieceBytes)
	for {
		var p *piece
		select {
		case p = <-free:
		case <-ctx.Done():
			return
		}
		if in.Table != nil {
			p.readRows(in.Table)
		} else {
			p.decode(&dec, in.Bytes, buf)
		}
		last := p.err != nil // p is the other's once it is handed on
		full <- p
		if last {
			return
		}
	}
}

// decode fills p with the frames of the next bytes of r.
func (p *piece) decode(dec *frame.Decoder, r io.Reader, buf []byte) {
	var n int
	n, p.err = r.Read(buf)
	if dec.Feed(buf[:n]); n > 0 && p.err == io.EOF {
		p.err = nil // it comes again
	} else if p.err == io.EOF {
		dec.Finish()
	}
	dec.Take(&p.batch)
}

// readRows fills p with the next rows of t.
func (p *piece) readRows(t *capture.Table) {
	if p.rows == nil {
		p.rows = make([]tableRow, pieceRows)
	}
	p.rows, p.err = p.rows[:pieceRows], nil
	for i := range p.rows {
		r := &p.rows[i]
		if p.err = t.Read(&r.row); p.err != nil {
			p.rows = p.rows[:i]
			return
		}
		r.stats = t.Stats()
	}
}
