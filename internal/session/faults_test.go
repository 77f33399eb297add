package session_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"testing/synctest"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/frame"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// idleSeconds is the longest idling that a test asks for.
const idleSeconds = 20

// longIdling is an idling four for that long, and its true cycles.
var longIdling = sync.OnceValues(func() (fakeboard.Recording, []engine.Cycle) {
	e := engine.New(engine.Config{Bank: bank.Default(4), Seed: 10, Running: true})
	var cycles []engine.Cycle
	e.OnCycle(func(c engine.Cycle) { cycles = append(cycles, c) })
	return fakeboard.FromEngine(e, idleSeconds, nil), cycles
})

// idling is a four that idles for so many seconds, and its true cycles.
func idling(seconds float64) (fakeboard.Recording, []engine.Cycle) {
	rec, cycles := longIdling()
	n := 0
	for n < len(cycles) && cycles[n].StartS+cycles[n].PeriodS <= seconds {
		n++
	}
	return rec.Part(0, int(seconds*fakeboard.Rate)), cycles[:n:n]
}

// run is what a chain made of a stream.
type run struct {
	lines    []string // every reading, in full
	readings []balance.Reading
	link     session.Link
	chain    *session.Chain
}

// through runs a stream through a chain.
func through(t *testing.T, stream []byte) run {
	t.Helper()
	b := bank.Default(4)
	r := run{}
	r.chain = session.NewChain(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, func(rd *balance.Reading) {
		r.readings = append(r.readings, *rd)
		r.lines = append(r.lines, fmt.Sprintf("%v %v %v %+v", rd.Time, rd.RPM, rd.Cylinders, rd.Advice))
	})
	if err := r.chain.Feed(stream); err != nil {
		t.Fatal(err)
	}
	if err := r.chain.Finish(); err != nil {
		t.Fatal(err)
	}
	r.link = r.chain.Link()
	return r
}

func (r *run) last() *balance.Reading { return &r.readings[len(r.readings)-1] }

// rpm is the mean speed of the cycles that ended after from, in s.
func (r *run) rpm(from float64) float64 {
	cycles, seconds := 0, 0.0
	for i := range r.readings {
		if s := &r.readings[i].Span; s.Cycle && s.Start >= from {
			cycles, seconds = cycles+1, seconds+s.Period
		}
	}
	return 120 * float64(cycles) / seconds
}

// Row 4: lost frames are counted to the one, move no sample in time, never hide
// in a window, and at 1 % move no draw by 0.1 kPa.
func TestLostFrames(t *testing.T) {
	t.Parallel()
	rec, _ := idling(20)
	blocks := rec.Blocks()
	want := through(t, fakeboard.Join(blocks))
	total := 0
	for _, share := range []float64{0.001, 0.01, 0.1} {
		t.Run(fmt.Sprintf("%g %%", 100*share), func(t *testing.T) {
			random := rand.New(rand.NewPCG(4, uint64(1000*share)))
			stream, lost := fakeboard.Lossy(random, blocks, share)
			total += lost
			got := withLoss(t, stream, lost, &want)
			if share > 0.01 {
				return
			}
			for i, c := range got.last().Cylinders {
				if d := math.Abs(float64(c.Draw - want.last().Cylinders[i].Draw)); d > 0.1 || math.IsNaN(d) {
					t.Errorf("draw of cylinder %d is %.3f kPa off", i+1, d)
				}
			}
		})
	}
	all := []int{1, 2, 3, 10, 100, 127, 128, 255, 256, 257, 500, 999, 1000}
	for _, burst := range effort.Of([]int{1, 127, 128, 256, 1000}, all) {
		t.Run(fmt.Sprintf("a burst of %d", burst), func(t *testing.T) {
			total += burst
			withLoss(t, fakeboard.WithoutRun(blocks, 9000, burst), burst, &want)
		})
	}
	t.Logf("count: %d frames lost on purpose, each counted, no sample moved in time", total)
}

// withLoss runs a stream in which so many frames are lost through a chain, and checks what
// must be as without the loss.
func withLoss(t *testing.T, stream [][]byte, lost int, want *run) *run {
	t.Helper()
	got := through(t, fakeboard.Join(stream))
	if int(got.link.Lost) != lost || got.link.Damaged != 0 || got.link.Overflows != 0 {
		t.Errorf("%d lost, counted %+v", lost, got.link)
	}
	if math.Abs(got.link.LastTime-want.link.LastTime) > 1e-9 {
		t.Errorf("the last frame is at %v s, %v without the loss", got.link.LastTime, want.link.LastTime)
	}
	checkGaps(t, stream, &got)
	return &got
}

// checkGaps checks that every span in which a frame is missing says so, and that the
// samples' times are those of their ticks.
func checkGaps(t *testing.T, stream [][]byte, got *run) {
	t.Helper()
	rec, err := fakeboard.Read(bytes.NewReader(fakeboard.Join(stream)))
	if err != nil {
		t.Fatal(err)
	}
	conv := sensor.NewConverter(sensor.Setup{})
	conv.Announce(&rec.About)
	first := rec.Frames[0].Tick
	var missing []float64 // times of lost frames
	for i := range rec.Frames {
		f := &rec.Frames[i]
		at := float64(f.Tick-first) * 1e-6
		if s := conv.Push(f); math.Abs(s.Time-at) > 1e-9 {
			t.Fatalf("sample %d is at %v s, its tick says %v", f.Counter, s.Time, at)
		}
		for k := range f.Lost {
			missing = append(missing, at-float64(k+1)/fakeboard.Rate)
		}
	}
	slices.Sort(missing)
	for i := range got.readings {
		s := &got.readings[i].Span
		k, _ := slices.BinarySearch(missing, s.Start)
		if k < len(missing) && missing[k] < s.End()-1e-9 && !s.Gap && !s.Break {
			t.Errorf("the span from %.4f to %.4f s says nothing of the frame missing at %.4f", s.Start, s.End(),
				missing[k])
		}
	}
}

// Row 5: frames that come twice or out of order change no reading.
func TestDoubledAndSwappedFrames(t *testing.T) {
	t.Parallel()
	rec, _ := idling(10)
	blocks := rec.Blocks()
	want := through(t, fakeboard.Join(blocks))
	random := rand.New(rand.NewPCG(5, 5))
	again, extra := repeated(random, blocks, 3)
	mixed := swapped(random, blocks, 0.3)
	both := swapped(random, again, 0.3)
	for name, c := range map[string]struct {
		stream [][]byte
		extra  int
	}{"doubled": {again, extra}, "swapped": {mixed, 0}, "both": {both, extra}} {
		got := through(t, fakeboard.Join(c.stream))
		if !slices.Equal(got.lines, want.lines) {
			t.Errorf("%s: other readings", name)
		}
		if int(got.link.Duplicates) != c.extra || got.link.Lost != 0 || got.link.Damaged != 0 {
			t.Errorf("%s: %d sent too often, counted %+v", name, c.extra, got.link)
		}
		for i := 1; i < len(got.readings); i++ {
			if got.readings[i].Time < got.readings[i-1].Time {
				t.Errorf("%s: time runs back from %v to %v s", name, got.readings[i-1].Time, got.readings[i].Time)
			}
		}
	}
	t.Logf("count: %d frames doubled, %d streams out of order, the same readings", extra, 2)
}

// Row 6, within: what the board itself missed is no loss on the way.
func TestOverflowIsNoLoss(t *testing.T) {
	t.Parallel()
	rec, _ := idling(6)
	got := through(t, rec.Overflowing(2000, 30).Overflowing(4000, 7).Bytes())
	if got.link.Overflows != 37 || got.link.Lost != 0 || got.link.Damaged != 0 || got.link.Gaps != 0 {
		t.Errorf("%+v", got.link)
	}
}

// Row 7: a board that starts anew anywhere in its bytes is seen at once, and
// nothing is taken for lost.
func TestRestartAnywhere(t *testing.T) {
	t.Parallel()
	trials := effort.Of(80, 1000)
	rec, _ := idling(4)
	before := rec.Part(0, 1200).StartingAt(50_000, 77_000_000).Bytes()
	after := rec.Part(1200, 2600).Restarted("0002").Blocks()
	random := rand.New(rand.NewPCG(7, 7))
	latest := 0.0
	for trial := range trials {
		stream := slices.Clone(before[:600+random.IntN(len(before)-600)])
		stream = append(stream, fakeboard.BootText...)
		junk := random.IntN(2000)
		if trial%20 == 7 {
			junk = random.IntN(2 * 25_000) // up to two seconds of it at 250,000 baud
		}
		stream = append(stream, fakeboard.Junk(random, junk)...)
		begin := len(stream)
		blocks := after
		if trial%2 == 1 {
			blocks = after[1:] // the first announcement is lost as well
		}
		stream = append(stream, fakeboard.Join(blocks)...)
		took := untilRestart(t, stream, begin)
		latest = max(latest, took)
		if took > 0.2 {
			t.Fatalf("trial %d: told %.3f s after the first good frame", trial, took)
		}
	}
	t.Logf("count: %d restarts at random bytes, told at the latest %.0f ms after the first good frame", trials,
		1000*latest)
}

// untilRestart returns how long after the first good frame past byte begin the
// chain counts a restart, by the board's time, and checks what it says at the end.
func untilRestart(t *testing.T, stream []byte, begin int) float64 {
	t.Helper()
	b := bank.Default(4)
	breaks := 0
	c := session.NewChain(session.Config{Bank: &b, Ambient: 101.3, Zeroed: true}, func(r *balance.Reading) {
		if r.Span.Break {
			breaks++
		}
	})
	c.Feed(stream[:begin])
	if c.Link().Restarts != 0 || c.Board().Boot == "0002" {
		t.Fatalf("a restart before there is one: %+v", c.Link())
	}
	breaks = 0
	took, frames := math.NaN(), c.Link().Frames
	for rest := stream[begin:]; len(rest) > 0; {
		n := min(24, len(rest))
		c.Feed(rest[:n])
		rest = rest[n:]
		if l := c.Link(); math.IsNaN(took) && l.Restarts > 0 {
			took = float64(l.Frames-frames) / fakeboard.Rate
		}
	}
	l := c.Link()
	if math.IsNaN(took) || l.Restarts != 1 || l.Lost != 0 || l.Overflows != 0 || breaks == 0 {
		t.Fatalf("restarts, losses: %+v, %d breaks", l, breaks)
	}
	if !c.ZeroState().Zeroed || c.Board().Boot != "0002" {
		t.Fatalf("after it: %+v, boot %s", c.ZeroState(), c.Board().Boot)
	}
	return took
}

// Row 7: another board in its place has another zero, or none.
func TestAnotherBoardHasNoZeroOfThisOne(t *testing.T) {
	t.Parallel()
	rec, _ := idling(3)
	other := rec.Part(1500, 3000).Restarted("0001")
	other.About.Serial = "OTHER"
	b := bank.Default(4)
	c := session.NewChain(session.Config{BankOf: func(a *frame.Announcement) session.Config {
		return session.Config{Bank: &b, Ambient: 101.3, Zeroed: a.Serial == rec.About.Serial}
	}}, func(*balance.Reading) {})
	c.Feed(rec.Part(0, 1500).Bytes())
	if !c.ZeroState().Zeroed {
		t.Error("the first board's zero is not taken")
	}
	c.Feed(other.Bytes())
	if c.ZeroState().Zeroed || c.Link().Restarts != 1 || c.Link().Lost != 0 {
		t.Errorf("the other board: %+v, %+v", c.ZeroState(), c.Link())
	}
}

// Row 15: no wrap of the board's clock or counter shows in a reading; the speed is
// that of the board's time.
func TestWraps(t *testing.T) {
	t.Parallel()
	rec, cycles := idling(20)
	want := through(t, rec.Bytes())
	wraps := map[string][2]uint32{
		"tick":       {100, math.MaxUint32 - 9_000_000},
		"counter":    {math.MaxUint32 - 9_000, 5},
		"both":       {math.MaxUint32 - 7_000, math.MaxUint32 - 7_000_000},
		"16 bits":    {65_000, 65_000},
		"sign":       {math.MaxInt32 - 9_000, math.MaxInt32 - 9_000_000},
		"last frame": {math.MaxUint32 - 19_990, math.MaxUint32 - 19_990_000},
	}
	for name, from := range wraps {
		t.Run(name, func(t *testing.T) {
			got := through(t, rec.StartingAt(from[0], from[1]).Bytes())
			if !slices.Equal(got.lines, want.lines) || got.link.Lost != 0 || got.link.Damaged != 0 ||
				got.link.Restarts != 0 {
				t.Errorf("other readings, %+v", got.link)
			}
		})
	}
	n, seconds := 0, 0.0
	for _, c := range cycles {
		if c.StartS > 3 && c.StartS < 19.5 {
			n, seconds = n+1, seconds+c.PeriodS
		}
	}
	truth := 120 * float64(n) / seconds
	if rpm := want.rpm(3); math.Abs(rpm/truth-1) > 0.001 {
		t.Errorf("%.2f rpm, true by the board's time %.2f", rpm, truth)
	}
	t.Logf("count: %d wraps of counter and clock, no step", len(wraps))
}

// A session that ends leaves nothing running: a bubble of virtual time ends when all that was
// begun in it has ended, and fails when that can't be.
func TestSessionsLeaveNothing(t *testing.T) {
	t.Parallel()
	rec, _ := idling(1)
	stream := rec.Bytes()
	sessions := effort.Of(20, 200)
	for i := range sessions {
		synctest.Test(t, func(t *testing.T) {
			ctx, stop := context.WithCancel(context.Background())
			b := bank.Default(4)
			s := session.New(session.Config{Bank: &b, Ambient: 101.3}, session.Options{})
			r, w := io.Pipe()
			ended := make(chan error, 1)
			go func() { ended <- s.Run(ctx, r) }()
			w.Write(stream)
			want := error(nil)
			if i%2 == 0 {
				w.Close()
			} else {
				stop()
				want = context.Canceled
			}
			synctest.Wait()
			select {
			case err := <-ended:
				if !errors.Is(err, want) {
					t.Errorf("session %d ended with %v", i, err)
				}
			default:
				t.Errorf("session %d goes on", i)
				w.Close()
			}
			stop()
		})
	}
	t.Logf("count: %d sessions, no goroutine left", sessions)
}
