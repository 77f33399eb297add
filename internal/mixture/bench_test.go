package mixture

import (
	"testing"

	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
)

// cylinders is how many an engine has that is only looked at: four in full runs, two in
// plain ones, which take half as long.
func cylinders() int { return effort.Of(2, 4) }

// bench is a practice engine whose spans go to each stage in push.
type bench struct {
	t       testing.TB
	engine  *engine.Engine
	dec     frame.Decoder
	conv    *sensor.Converter
	tracker *cycle.Tracker
	push    func(*cycle.Span)
	begun   bool
	buf     [480]byte
}

func newBench(t testing.TB, cfg engine.Config, push func(*cycle.Span)) *bench {
	b := &bench{t: t, engine: engine.New(cfg), conv: sensor.NewConverter(sensor.Setup{}), push: push,
		tracker: cycle.NewTracker(cycle.Config{Channels: cfg.Bank.Channels, Ambient: engine.DefaultAmbient})}
	return b
}

// run lets the engine's time pass, by half seconds, until each returns true.
func (b *bench) run(seconds float64, each func() (done bool)) bool {
	b.t.Helper()
	end := b.engine.Truth().TimeS + seconds
	for next := 0.0; b.engine.Truth().TimeS < end; {
		n, err := b.engine.Read(b.buf[:])
		if err != nil {
			b.t.Fatal(err)
		}
		b.dec.Feed(b.buf[:n])
		for f, ok := b.dec.Next(); ok; f, ok = b.dec.Next() {
			b.frame(f)
		}
		if now := b.engine.Truth().TimeS; each != nil && now >= next {
			next = now + 0.5
			if each() {
				return true
			}
		}
	}
	return false
}

func (b *bench) frame(f *frame.Frame) {
	if !b.begun {
		b.begun = true
		b.conv.Announce(b.dec.Board())
	}
	s := b.conv.Push(f)
	if span, ok := b.tracker.Push(s); ok {
		b.push(span)
	}
}
