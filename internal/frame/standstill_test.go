package frame_test

import (
	"bytes"
	"math/rand/v2"
	"strings"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
)

// changed returns a run of the board whose frames, announcement and layout are right, but for what
// change does to frame i.
func changed(n int, change func(i int, f *frame.Frame)) fakeboard.Recording {
	r := fakeboard.Steady("A1", 4, n)
	for i := range r.Frames {
		change(i, &r.Frames[i])
	}
	return r
}

// Of a board that announces itself but whose frames can't be used, the reason is told within three
// seconds; of one whose frames can be, none is.
func TestStandstill(t *testing.T) {
	t.Parallel()
	const n = 3000
	random := rand.New(rand.NewPCG(1, 1))
	slow := changed(n, func(i int, f *frame.Frame) { f.Tick *= 2 })
	mute := fakeboard.Steady("A1", 4, n)
	says := frame.AppendAnnouncement(nil, &mute.About)
	seed := frame.Seed("counter:u32 clock:u32 overflow:u16 count:u16*4")
	others := bytes.Repeat(says, 3)
	for i := range mute.Frames {
		others = frame.AppendData(others, seed, &mute.Frames[i])
	}
	for name, c := range map[string]struct {
		bytes []byte
		why   string // "" is no standstill
	}{
		"sound":          {mute.Bytes(), ""},
		"tick stands":    {changed(n, func(_ int, f *frame.Frame) { f.Tick = 77 }).Bytes(), "its tick stands"},
		"half the rate":  {slow.Bytes(), "it announces 1000 a second, its counter and tick say 500"},
		"counter stands": {changed(n, func(_ int, f *frame.Frame) { f.Counter = 0 }).Bytes(), "its counter stands"},
		"same frame again": {changed(n, func(_ int, f *frame.Frame) { f.Counter, f.Tick = 0, 0 }).Bytes(),
			"its counter stands"},
		"random counters": {changed(n, func(_ int, f *frame.Frame) { f.Counter = random.Uint32() }).Bytes(),
			"their counters and ticks don't go together"},
		"no frames":                  {bytes.Repeat(says, 3), "sends no data frames"},
		"another layout in the seed": {others, "all of its data frames are damaged"},
	} {
		t.Run(name, func(t *testing.T) {
			d := &frame.Decoder{}
			d.Feed(c.bytes)
			drain(d)
			why := d.Standstill()
			if c.why == "" {
				if why != nil {
					t.Errorf("%v", why)
				}
				return
			}
			if why == nil || !strings.Contains(why.Error(), c.why) {
				t.Fatalf("%v, want %q; %+v", why, c.why, d.Stats())
			}
			if d.Stats().Frames > 1 || d.Stats().Lost > 0 {
				t.Errorf("%+v", d.Stats())
			}
			// When the frames are right again there is none. A board that begins anew says so.
			again := mute.Restarted("0002")
			d.Feed(again.Bytes())
			if got := drain(d); got != n || d.Standstill() != nil {
				t.Errorf("%d frames of %d after it, %v", got, n, d.Standstill())
			}
		})
	}
}

// Row 3: frames that a CRC of 16 bits lets pass by chance have any counter and any tick. None is
// taken, and what comes between them is.
func TestWrongFramesWithARightCRC(t *testing.T) {
	t.Parallel()
	trials := effort.Of(20_000, 1_000_000)
	r := fakeboard.Steady("A1", 4, trials+1)
	seed := frame.Seed(r.About.Layout)
	d := joined(r.Part(0, 1))
	random := rand.New(rand.NewPCG(3, 1))
	accepted, wrong := 0, 0
	for i := range trials {
		bad := r.Frames[i]
		switch i % 3 { // all of it, or one of the two alone
		case 0:
			bad.Counter, bad.Tick = random.Uint32(), random.Uint32()
		case 1:
			bad.Counter = random.Uint32()
		case 2:
			bad.Tick = random.Uint32()
		}
		d.Feed(frame.AppendData(nil, seed, &bad))
		wrong += drain(d)
		d.Feed(frame.AppendData(nil, seed, &r.Frames[i+1]))
		accepted += drain(d)
	}
	if s := d.Stats(); wrong > 0 || accepted != trials || s.Lost != 0 || s.Restarts != 0 {
		t.Errorf("%d wrong frames accepted, %d right ones of %d; %+v", wrong, accepted, trials, s)
	}
	t.Logf("count: %d frames with a right CRC and a wrong counter or tick, 0 accepted", trials)
}

// Rows 3 and 15: a gap as long as a laptop sleeps is counted to the frame, over wraps of the tick; one of
// which nothing can be known, or whose tick does not go with the counter, is a restart.
func TestLongGaps(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name     string
		seconds  uint32
		offUs    uint32 // by which the tick is off, in the first and all later frames
		restarts uint64
	}{
		{"5 s", 5, 0, 0},
		{"just short", 9, 0, 0},
		{"just long", 11, 0, 0},
		{"half an hour", 1800, 0, 0},
		{"half an hour, at the slack's end", 1800, 35_000_000, 0},
		{"half an hour, beyond the slack", 1800, 37_000_000, 1},
		{"a wrap of the tick", 4295, 0, 0},
		{"two wraps and more", 10_000, 0, 0},
		{"two wraps, the tick half a turn off", 10_000, 1 << 31, 1},
		{"11 hours", 11 * 3600, 0, 0},
		{"13 hours", 13 * 3600, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := fakeboard.Steady("A1", 4, 20)
			seed := frame.Seed(r.About.Layout)
			d := joined(r.Part(0, 10))
			first := true
			for _, f := range r.Frames[10:] {
				f.Counter += c.seconds * fakeboard.Rate
				f.Tick += c.seconds*1_000_000 + c.offUs
				d.Feed(frame.AppendData(nil, seed, &f))
				for got, ok := d.Next(); ok; got, ok = d.Next() {
					if first && c.restarts == 0 && got.Lost != c.seconds*fakeboard.Rate {
						t.Errorf("%d lost before the first frame", got.Lost)
					}
					first = false
				}
			}
			d.Finish()
			drain(d)
			s := d.Stats()
			lost := uint64(c.seconds) * fakeboard.Rate
			if c.restarts > 0 {
				lost = 0
			}
			if s.Frames != 20 || s.Lost != lost || s.Restarts != c.restarts || s.Damaged != 0 {
				t.Errorf("%+v, want %d lost and %d restarts", s, lost, c.restarts)
			}
		})
	}
}
