package session_test

import (
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
	"evendraw/internal/session"
)

// FuzzChain gives the stages any counts, with gaps, missed instants, restarts and junk
// between the frames: nothing fails, time never runs back, and no figure is
// infinite.
func FuzzChain(f *testing.F) {
	rec, _ := idling(1)
	var pulses []byte
	for _, fr := range rec.Frames {
		for _, c := range fr.Counts[:4] {
			pulses = append(pulses, byte(c>>2))
		}
	}
	f.Add(pulses, []byte{0, 0, 0}, byte(4))
	f.Add(pulses, []byte{9, 200, 3, 255, 2, 0, 250}, byte(3))
	f.Add([]byte{0, 255, 0, 255, 128}, []byte{1}, byte(2))
	f.Add(make([]byte, 4000), []byte{2}, byte(1))
	f.Fuzz(func(t *testing.T, counts, events []byte, channels byte) {
		n := 1 + int(channels)%frame.MaxChannels
		cylinders := min(n, bank.MaxCylinders)
		last := math.Inf(-1)
		c := session.NewChain(session.Config{Ambient: 101.3, Zeroed: true}, func(r *balance.Reading) {
			if r.Time < last || len(r.Cylinders) != cylinders {
				t.Fatalf("%d cylinders at %v s, before it %v", len(r.Cylinders), r.Time, last)
			}
			last = r.Time
			for _, cyl := range r.Cylinders {
				for _, v := range []float64{float64(cyl.Draw), float64(cyl.Difference), float64(cyl.Ripple),
					cyl.Opening, r.RPM, float64(r.Spread)} {
					if math.IsInf(v, 0) {
						t.Fatalf("%+v of %+v", cyl, r)
					}
				}
			}
		})
		if err := c.Feed(fuzzStream(counts, events, n)); err != nil {
			t.Fatal(err)
		}
		if err := c.Finish(); err != nil {
			t.Fatal(err)
		}
	})
}

// fuzzStream makes frames of counts, and lets events happen between them.
func fuzzStream(counts, events []byte, n int) []byte {
	a := fakeboard.Announcement("F1", n)
	seed := frame.Seed(a.Layout)
	s := frame.AppendAnnouncement(nil, a)
	f := frame.Frame{N: n}
	for k := 0; len(counts) >= n && k < 2000; k++ {
		for i := range n {
			f.Counts[i] = uint16(counts[i]) << 2
		}
		counts = counts[n:]
		s = frame.AppendData(s, seed, &f)
		f.Counter++
		f.Tick += 1000
		if len(events) == 0 || k%10 != 9 {
			continue
		}
		e := events[k/10%len(events)]
		switch e % 8 {
		case 1: // frames are lost
			f.Counter += uint32(e)
			f.Tick += 1000 * uint32(e)
		case 2: // the board is late
			f.Overflow += uint16(e)
			f.Tick += 1000 * uint32(e)
		case 3: // it starts anew
			a.Boot = string(rune('A' + e%26))
			f = frame.Frame{N: n}
			s = frame.AppendAnnouncement(s, a)
		case 4:
			s = append(s, events...)
		}
	}
	return s
}
