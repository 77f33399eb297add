package fakeboard

import (
	"cmp"
	"context"
	"io"
	"math/rand/v2"
	"time"

	"evendraw/internal/frame"
)

// sendWait is how long bytes wait in the bridge for room in the host. Chosen: a bridge has some hundred bytes.
const sendWait = 5 * time.Millisecond

// Pace is how bytes come over a line. The zero value is an exact board clock
// and batches of about 20 ms of a four-channel board.
type Pace struct {
	// Clock is how many of the board's seconds pass in a second; 0 is 1.
	Clock float64
	// Batch is how many bytes are handed over at a time; 0 is 512.
	Batch int
	// Jitter is by how much a batch comes late at most, by chance.
	Jitter time.Duration
	// Patient waits where the host takes no bytes, instead of dropping them.
	Patient bool
}

// usualBatch is 21 ms of a four-channel board at 1000 frames a second.
const usualBatch = 512

// play sends the bytes of src, a board's, when the ticks of their frames say so, until src ends,
// ctx is done or send fails. send returns how many bytes found no room, as play does of all.
func play(ctx context.Context, send func([]byte) (int, error), src io.Reader, pace Pace) (dropped int) {
	pace.Batch, pace.Clock = cmp.Or(pace.Batch, usualBatch), cmp.Or(pace.Clock, 1)
	p := pacer{pace: pace, start: time.Now(), random: rand.New(rand.NewPCG(1, 1))}
	buf := make([]byte, pace.Batch)
	for ctx.Err() == nil {
		n, err := src.Read(buf)
		if !p.await(ctx, buf[:n]) {
			return dropped
		}
		lost, sendErr := send(buf[:n])
		for pace.Patient && lost > 0 && sendErr == nil && ctx.Err() == nil {
			lost, sendErr = send(buf[n-lost : n])
		}
		dropped += lost
		if err != nil || sendErr != nil {
			return dropped
		}
	}
	return dropped
}

// pacer knows when bytes are due.
type pacer struct {
	pace    Pace
	start   time.Time
	dec     frame.Decoder
	started bool
	last    frame.Frame
	elapsed time.Duration // of the last frame, from the first, by the board's clock
	random  *rand.Rand
}

// await waits until the last frame in chunk is due; false when ctx ended.
func (p *pacer) await(ctx context.Context, chunk []byte) bool {
	p.dec.Feed(chunk)
	for f, ok := p.dec.Next(); ok; f, ok = p.dec.Next() {
		if p.started && f.Segment == p.last.Segment {
			p.elapsed += time.Duration(f.Tick-p.last.Tick) * time.Microsecond
		}
		p.started, p.last = true, *f
	}
	due := p.start.Add(time.Duration(float64(p.elapsed) / p.pace.Clock))
	if p.pace.Jitter > 0 {
		due = due.Add(time.Duration(p.random.Int64N(int64(p.pace.Jitter))))
	}
	select {
	case <-time.After(time.Until(due)):
		return true
	case <-ctx.Done():
		return false
	}
}
