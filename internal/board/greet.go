package board

import (
	"bytes"
	"context"
	"time"

	"evendraw/internal/frame"
)

const (
	// chunkLen is how many bytes one read takes while waiting: 40 ms of a full
	// line at 1000000 bit/s, ten bits a byte (derived).
	chunkLen = 4096
	// maxUnread bounds the bytes kept while waiting: 10 s of a full line at
	// 1000000 bit/s, more than any default wait (derived).
	maxUnread = 1 << 20
	// measureFor is how long lines are counted. Chosen: bridges send batches of 16 ms, which is then 1 %.
	measureFor = 2 * time.Second
	// progressEvery is the pause between two progress reports (chosen).
	progressEvery = 200 * time.Millisecond
)

// greeting is a wait for a board's announcement.
type greeting struct {
	link       *Link
	opt        *Options
	dec        frame.Decoder
	buf        [chunkLen]byte
	start      time.Time
	reported   time.Time
	linesSince time.Time // when lines without a rate were first seen; zero before
	linesThen  uint64    // how many there were by then
}

// greet tries one rate after the other until the board announces itself, and
// keeps the bytes that came meanwhile for Read.
func (l *Link) greet(ctx context.Context, opt *Options) error {
	g := &greeting{link: l, opt: opt, start: time.Now()}
	for i, baud := range opt.rates() {
		if i > 0 {
			if err := l.wire.SetBaud(baud); err != nil {
				return err
			}
			l.unread = lastBlock(l.unread)
		}
		l.baud = baud
		if err := g.listen(ctx, time.Now().Add(opt.wait())); err != nil || l.board != nil {
			return err
		}
	}
	return &Error{Kind: Silent, Port: l.path, Bytes: g.dec.Stats().Bytes, Rates: opt.rates(),
		Waited: time.Since(g.start)}
}

// listen reads at one rate until the announcement or the deadline.
func (g *greeting) listen(ctx context.Context, deadline time.Time) error {
	g.report(true)
	for time.Now().Before(deadline) || time.Since(g.linesSince) < 2*measureFor {
		if err := ctx.Err(); err != nil {
			return cancelled(g.link.path, err)
		}
		n, err := g.link.wire.Read(g.buf[:])
		if err != nil {
			return &Error{Kind: Vanished, Port: g.link.path, Err: err}
		}
		if n > 0 {
			if done, err := g.takeChunk(g.buf[:n]); done || err != nil {
				return err
			}
		}
		g.report(false)
	}
	return nil
}

// takeChunk decodes one chunk and reports whether it completed an announcement.
func (g *greeting) takeChunk(chunk []byte) (done bool, err error) {
	l := g.link
	if len(l.unread)+len(chunk) > maxUnread {
		l.unread = lastBlock(l.unread)
	}
	l.unread = append(l.unread, chunk...)
	g.dec.Feed(chunk)
	for {
		if _, more := g.dec.Next(); !more {
			break
		}
	}
	a := g.dec.Board()
	if a == nil {
		return false, nil
	}
	if a.Printed == frame.NoClock && a.Rate == 0 {
		if !g.measure() {
			return false, nil
		}
		a = g.dec.Board()
	}
	if err := g.dec.Failure(); err != nil {
		return false, &Error{Kind: Unreadable, Port: l.path, Board: a, Err: err}
	}
	l.board = a
	return true, nil
}

// measure counts the lines of a board that prints neither a clock nor its rate, and puts a remark with the measured
// rate before its bytes, so that these give the same frames whenever they are read again.
func (g *greeting) measure() (done bool) {
	now, lines := time.Now(), g.dec.Stats().Unreadable
	if g.linesSince.IsZero() {
		g.linesSince, g.linesThen = now, lines
		return false
	}
	took := now.Sub(g.linesSince)
	if took < measureFor {
		return false
	}
	rate := float64(lines-g.linesThen) / took.Seconds()
	g.linesSince = time.Time{}
	l := g.link
	l.unread = append(frame.RateRemark(max(1, int(rate+0.5))), l.unread...)
	g.dec = frame.Decoder{}
	g.dec.Feed(l.unread)
	for _, more := g.dec.Next(); more; _, more = g.dec.Next() {
	}
	return g.dec.Board() != nil
}

func (g *greeting) report(now bool) {
	if g.opt.Progress == nil || (!now && time.Since(g.reported) < progressEvery) {
		return
	}
	g.reported = time.Now()
	s := g.dec.Stats()
	g.opt.Progress(Progress{Port: g.link.path, Baud: g.link.baud, Waited: time.Since(g.start), Bytes: s.Bytes,
		Damaged: s.Damaged})
}

// lastBlock returns the end of b from its last delimiter on: a block that may yet
// become a frame. The bytes before it held no announcement.
func lastBlock(b []byte) []byte {
	i := bytes.LastIndexByte(b, 0)
	if i < 0 || len(b)-i > chunkLen {
		return b[:0]
	}
	return append(b[:0], b[i:]...)
}
