package session_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// practice is a chain on the practice engine.
type practice struct {
	engine *engine.Engine
	chain  *session.Chain
	last   *balance.Reading
	lines  []string
	bytes  []byte
	buf    [480]byte
}

func newPractice(cfg engine.Config) *practice {
	p := &practice{engine: engine.New(cfg)}
	p.chain = session.NewChain(session.Config{Ambient: 101.3, Bank: &cfg.Bank}, func(r *balance.Reading) {
		p.last = r
		p.lines = append(p.lines, fmt.Sprintf("%v %v %v %+v", r.Time, r.RPM, r.Cylinders, r.Advice))
	})
	return p
}

// run lets the engine's time pass.
func (p *practice) run(t *testing.T, seconds float64, each func()) {
	t.Helper()
	end := p.engine.Truth().TimeS + seconds
	for p.engine.Truth().TimeS < end {
		n, err := p.engine.Read(p.buf[:])
		if err != nil {
			t.Fatal(err)
		}
		p.bytes = append(p.bytes, p.buf[:n]...)
		if err := p.chain.Feed(p.buf[:n]); err != nil {
			t.Fatal(err)
		}
		if each != nil {
			each()
		}
	}
}

// zeroAndStart does a zero pass with the engine off, and starts it.
func (p *practice) zeroAndStart(t *testing.T) {
	t.Helper()
	p.run(t, 0.5, nil)
	p.chain.StartZero()
	p.run(t, 5.5, nil)
	if z := p.chain.ZeroState(); z.Running || z.Err != nil || !z.Zeroed {
		t.Fatalf("zero pass: %+v", z)
	}
	p.engine.Start()
	p.run(t, 6, nil)
}

func TestReadingsOfThePracticeEngineAreTrue(t *testing.T) {
	t.Parallel()
	for _, n := range effort.Of([]int{2, 4}, []int{2, 3, 4}) {
		for seed := range effort.Of[uint64](1, 3) {
			t.Run(fmt.Sprintf("%d cylinders, seed %d", n, seed), func(t *testing.T) { readingsAreTrue(t, n, seed) })
		}
	}
}

func readingsAreTrue(t *testing.T, n int, seed uint64) {
	p := newPractice(engine.Config{Bank: bank.Default(n), Seed: seed})
	p.zeroAndStart(t)
	var truth [4]float64
	cycles := 0
	p.engine.OnCycle(func(c engine.Cycle) {
		cycles++
		for i := range n {
			truth[i] += float64(c.Draw[i])
		}
	})
	p.run(t, effort.Of(4.0, 10), nil)
	for i, cyl := range p.last.Cylinders {
		// The zero pass takes out the offset; the sensors' gain, 1 % of
		// 25 kPa, stays until a match pass.
		want := truth[i] / float64(cycles)
		if d := math.Abs(float64(cyl.Draw) - want); d > 0.85 {
			t.Errorf("cylinder %d: draw %.2f, true %.2f", i+1, cyl.Draw, want)
		}
	}
	if d := math.Abs(p.last.RPM/p.engine.Truth().RPM - 1); d > 0.05 {
		t.Errorf("%.0f rpm, true %.0f", p.last.RPM, p.engine.Truth().RPM)
	}
}

// hand does what the advice says, looking twice a second.
type hand struct {
	acted advice.Advice
	until float64 // an advice that stands unchanged is not followed again before
	turns int     // screws taken in hand
}

// Turns that a slow hand makes from one look to the next.
const slowStep = 1.0 / 16

func (h *hand) follow(p *practice, a *advice.Advice) {
	now := p.engine.Truth().TimeS
	if a.Why == advice.WhyBlip && (a.Why != h.acted.Why || now > h.until) {
		p.engine.Blip()
		h.until = now + 15
	}
	if a.Kind != advice.Turn && a.Kind != advice.Reverse {
		h.acted = *a
		return
	}
	if a.Screw != h.acted.Screw {
		h.turns++
	}
	amount := a.Turns
	switch {
	case math.IsNaN(amount):
		amount = slowStep
		if a.Why == advice.WhySlower {
			amount /= 2
		}
	case a.Screw == h.acted.Screw && a.Direction == h.acted.Direction && now < h.until || p.engine.Truth().Turning:
		return
	}
	if a.Direction == advice.Anticlockwise {
		amount = -amount
	}
	p.engine.Turn(a.Screw, amount)
	h.acted, h.until = *a, now+4
}

func TestFollowingTheAdviceLevelsThePracticeEngine(t *testing.T) {
	t.Parallel()
	for _, n := range effort.Of([]int{2, 4}, []int{2, 3, 4}) {
		t.Run(fmt.Sprintf("%d cylinders", n), func(t *testing.T) {
			turns, seconds := 0, 0.0
			seeds := effort.Of([]uint64{0}, []uint64{0, 1, 2})
			for _, seed := range seeds {
				made, took := levels(t, n, seed)
				turns, seconds = turns+made, seconds+took
			}
			engines := float64(len(seeds))
			t.Logf("%d engines, %.1f turns, %.0f s", len(seeds), float64(turns)/engines, seconds/engines)
		})
	}
}

// levels levels one engine by the advice, and returns how many screws were taken in hand and
// how long it took.
func levels(t *testing.T, n int, seed uint64) (turns int, seconds float64) {
	t.Helper()
	p := newPractice(engine.Config{Bank: bank.Default(n), Seed: seed, NoSensorErrors: true})
	p.zeroAndStart(t)
	start := p.engine.Truth().TimeS
	var h hand
	for p.engine.Truth().TimeS < start+240 && p.last.Advice.Kind != advice.Done {
		p.run(t, 0.5, nil)
		h.follow(p, &p.last.Advice)
	}
	spread, done := p.engine.Truth().Spread, p.last.Advice.Kind == advice.Done
	if !done {
		t.Errorf("seed %d: %+v after 240 s, true spread %.2f", seed, p.last.Advice, spread)
	} else if spread > 0.8 {
		t.Errorf("seed %d: done at a true spread of %.2f kPa", seed, spread)
	}
	t.Logf("seed %d: %d turns, %.0f s", seed, h.turns, p.engine.Truth().TimeS-start)
	return h.turns, p.engine.Truth().TimeS - start
}

func TestSameBytesSameReadings(t *testing.T) {
	t.Parallel()
	p := newPractice(engine.Config{Bank: bank.Default(4), Seed: 3, Running: true})
	p.run(t, 8, nil)
	want := strings.Join(p.lines, "\n")
	if len(p.lines) < 50 {
		t.Fatalf("%d readings", len(p.lines))
	}
	for name, src := range map[string]io.Reader{
		"at once": bytes.NewReader(p.bytes),
		"halves":  iotest.HalfReader(bytes.NewReader(p.bytes)),
		"bytes":   iotest.OneByteReader(bytes.NewReader(p.bytes)),
	} {
		t.Run(name, func(t *testing.T) {
			var lines []string
			b := bank.Default(4)
			onReading := func(r *balance.Reading, c *session.Chain) {
				lines = append(lines, fmt.Sprintf("%v %v %v %+v", r.Time, r.RPM, r.Cylinders, r.Advice))
			}
			s := session.New(session.Config{Ambient: 101.3, Bank: &b}, session.Options{OnReading: onReading})
			if err := s.Run(context.Background(), src); err != nil {
				t.Fatal(err)
			}
			if got := strings.Join(lines, "\n"); got != want {
				t.Error("other readings")
			}
			if snap := s.Snapshot(); snap.Phase != session.Ended || snap.Reading == nil || snap.Link.Damaged != 0 {
				t.Errorf("snapshot %+v", snap)
			}
		})
	}
}

func TestTableOfKPa(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("t_us,kpa0,kpa1\n")
	for i := range 8000 {
		x := 2 * math.Pi * 8.75 * float64(i) / 1000 // 1050 rpm
		fmt.Fprintf(&b, "%d,%.3f,%.3f\n", i*1000, 75+20*math.Cos(x), 77-20*math.Cos(x))
	}
	in, err := capture.Open(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	sum := session.NewSummary(func() pressure.KPa { return 101.3 })
	s := session.New(session.Config{Ambient: 101.3, Zeroed: true},
		session.Options{OnReading: func(r *balance.Reading, c *session.Chain) { sum.Push(r) }})
	if err := s.RunTable(context.Background(), in.Table); err != nil {
		t.Fatal(err)
	}
	if sum.Cycles < 55 || math.Abs(sum.RPM(0.5)-1050) > 1 {
		t.Errorf("%d cycles, %.1f rpm", sum.Cycles, sum.RPM(0.5))
	}
	bk := bank.Default(2)
	for i, want := range []float64{26.3, 24.3} {
		if c := sum.Cylinders(&bk)[i]; math.Abs(float64(c.Draw)-want) > 0.01 || c.States["ok"] < 0.9 {
			t.Errorf("cylinder %d: %+v", i+1, c)
		}
	}
	if d := float64(sum.Spread()); math.Abs(d-2) > 0.01 {
		t.Errorf("spread %v", d)
	}
}

func TestBankThatDoesNotFitTheBoard(t *testing.T) {
	t.Parallel()
	e := engine.New(engine.Config{Bank: bank.Default(2), Running: true})
	b := bank.Default(4)
	s := session.New(session.Config{Bank: &b}, session.Options{})
	err := s.Run(context.Background(), io.LimitReader(e, 5000))
	if err == nil || !strings.Contains(err.Error(), "channel 2") {
		t.Errorf("got %v, want channel 2 named", err)
	}
}
