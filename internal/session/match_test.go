package session

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// rigged is a practice engine, and a chain that reads it.
type rigged struct {
	t     *testing.T
	e     *engine.Engine
	chain *Chain
	last  *balance.Reading
	// sums of the readings' differences since the last reset
	diff [bank.MaxCylinders]float64
	n    float64
}

func newRigged(t *testing.T, c engine.Config) *rigged {
	r := &rigged{t: t, e: engine.New(c)}
	b := c.Bank
	r.chain = NewChain(Config{Bank: &b, Ambient: pressure.StandardAtmosphere(0), AmbientFrom: FromStandard},
		func(rd *balance.Reading) {
			r.last = rd
			if rd.Span.Cycle {
				for i := range b.Cylinders {
					r.diff[i] += float64(rd.Span.Mean[0] - rd.Span.Mean[i])
				}
				r.n++
			}
		})
	return r
}

// feed runs the engine for that many seconds.
func (r *rigged) feed(seconds float64) {
	r.t.Helper()
	buf := make([]byte, 2048)
	for end := r.chain.Link().LastTime + seconds; r.chain.Link().LastTime < end; {
		n, _ := r.e.Read(buf)
		if err := r.chain.Feed(buf[:n]); err != nil {
			r.t.Fatal(err)
		}
	}
}

// zero takes a zero pass.
func (r *rigged) zero() {
	r.t.Helper()
	r.feed(0.5)
	r.chain.StartZero()
	r.feed(sensor.ZeroSeconds + 0.5)
	if err := r.chain.ZeroState().Err; err != nil {
		r.t.Fatal(err)
	}
}

// match takes a match pass from what the hoses are on; change acts before each of its pieces.
func (r *rigged) match(seconds float64, change func(second int)) (*sensor.Match, error) {
	r.t.Helper()
	if err := r.chain.StartMatch(nil); err != nil {
		return nil, err
	}
	for s := range int(seconds) {
		if change != nil {
			change(s)
		}
		r.feed(1)
	}
	r.chain.EndMatch()
	m := r.chain.MatchState()
	return m.Result, m.Err
}

// edges are sensors at the edges of their data sheets: offset 1.5 kPa, gain 2 %.
func (r *rigged) edges() {
	const offset, gain = 1.5, 0.02
	for i := range r.chainCylinders() {
		sign := float64(1 - 2*(i%2))
		// The offset counts at ambient, as the error band does.
		r.e.SensorErrors(i+1, pressure.KPa(sign*offset-sign*gain*101.3), 1+sign*gain)
	}
}

func (r *rigged) chainCylinders() int { return len(r.e.Truth().Cylinders) }

// worst compares the mean differences of seconds of idling with the truth, in kPa.
func (r *rigged) worst(seconds float64) (worst float64) {
	r.t.Helper()
	var truth [bank.MaxCylinders]float64
	n := 0.0
	r.e.OnCycle(func(c engine.Cycle) {
		for i := range c.Cylinders {
			truth[i] += float64(c.Draw[i] - c.Draw[0])
		}
		n++
	})
	r.diff, r.n = [bank.MaxCylinders]float64{}, 0
	r.feed(seconds)
	r.e.OnCycle(nil)
	if r.n < 5*seconds || n < 5*seconds {
		r.t.Fatalf("%v cycles read, %v made", r.n, n)
	}
	for i := range r.chainCylinders() {
		worst = math.Max(worst, math.Abs(r.diff[i]/r.n-truth[i]/n))
	}
	return worst
}

// After both passes the difference of two cylinders is right within 0.1 kPa at idle, with sensors at the
// edges of their data sheets and ten bits; before, it is not.
func TestBothPassesMakeTheRigRight(t *testing.T) {
	t.Parallel()
	for row, name := range []string{"lumpy-twin", "reversed-screw", "sparks", "healthy-four", "triple", "vee-four"} {
		seed := uint64(row + 1)
		t.Run(fmt.Sprintf("%s %d", name, seed), func(t *testing.T) {
			t.Parallel()
			if row > 0 {
				effort.ForWhole(t, "other bikes")
			}
			s, _ := engine.ScenarioNamed(name)
			bothPasses(t, s.Config(seed))
		})
	}
}

func bothPasses(t *testing.T, c engine.Config) {
	r := newRigged(t, c)
	r.edges()
	r.zero()
	r.e.Start()
	r.feed(6)
	before := r.worst(6)
	r.e.Tee(1)
	r.feed(2)
	m, err := r.match(22, nil)
	if err != nil {
		t.Fatal(err)
	}
	r.e.Tee(0)
	r.feed(3)
	after := r.worst(8)
	t.Logf("%.2f kPa before, %.3f after; gains %.4f ±%.4f", before, after, m.Gains, m.Uncertainty)
	if after > 0.1 {
		t.Errorf("the differences are wrong by %.3f kPa", after)
	}
	if before < 0.25 {
		t.Errorf("wrong by only %.2f kPa before the match pass: this proves nothing", before)
	}
}

// A hand pump in steps serves as well, and tells a bend.
func TestMatchByPump(t *testing.T) {
	t.Parallel()
	r := newRigged(t, engine.Config{Bank: bank.Default(4), Seed: 4})
	r.edges()
	r.zero()
	m, err := r.match(25, func(s int) { r.e.Pump(pressure.KPa(10 * (s / 5))) })
	if err != nil {
		t.Fatal(err)
	}
	for i, g := range m.Gains {
		want := 1.02
		if i%2 == 1 {
			want = 0.98
		}
		// The weighted mean of the gains is taken as true; that of these is 0.9998.
		if math.Abs(g-want/math.Sqrt(1.02*0.98)) > 0.001 || m.Uncertainty[i] > 0.002 {
			t.Errorf("channel %d: gain %.4f ±%.4f, want %.3f", i, g, m.Uncertainty[i], want)
		}
		if !(math.Abs(float64(m.Bend[i])) < 0.03) {
			t.Errorf("channel %d: bend %v", i, m.Bend[i])
		}
	}
	if m.Span < 39 {
		t.Errorf("span %v", m.Span)
	}
}

// A match pass refuses what is no common source, and leaves the gains alone.
func TestMatchRefuses(t *testing.T) {
	t.Parallel()
	for row, c := range refused {
		t.Run(c.name, func(t *testing.T) {
			effort.Some(t, row, 2)
			r := newRigged(t, engine.Config{Bank: bank.Default(4), Seed: 9, Level: true, Alike: true})
			r.zero()
			if c.before != nil {
				c.before(r)
			}
			r.feed(effort.Of(2.0, 5))
			m, err := r.match(effort.Of(16.0, 30), func(s int) {
				if c.during != nil {
					c.during(r, s)
				}
			})
			var refusal *sensor.Refusal
			if m != nil || !errors.As(err, &refusal) || (refusal.Channel >= 0) != c.channel {
				t.Fatalf("got %+v, %v", m, err)
			}
			t.Log(err)
			if r.chain.Config().Setup.Gains != nil {
				t.Error("gains were changed")
			}
		})
	}
	t.Run("no zero pass", func(t *testing.T) {
		r := newRigged(t, engine.Config{Bank: bank.Default(4)})
		r.feed(1)
		if err := r.chain.StartMatch(nil); err == nil {
			t.Error("a match pass without a zero pass")
		}
	})
}

// refused are what a match pass refuses; channel says whether a channel is named.
var refused = []struct {
	name    string
	channel bool
	before  func(r *rigged)
	during  func(r *rigged, second int)
}{
	{"no suction", false, nil, nil},
	{"little suction", false, func(r *rigged) { r.e.Pump(5) }, nil},
	{"each on its own port", true, func(r *rigged) { r.e.Start() }, nil},
	{"one hose off the tee", true, func(r *rigged) { r.e.Pump(30); r.e.Suck(2, 0) }, nil},
	{"one hose leaks", true, func(r *rigged) { r.e.Pump(30); r.e.Suck(3, 26) }, nil},
	{"dead sensor", true, func(r *rigged) { r.e.Pump(30); r.e.FailSensor(4, engine.SensorStuck) }, nil},
	{"rail", true, func(r *rigged) { r.e.Pump(30); r.e.FailSensor(4, engine.SensorRailLow) }, nil},
	{"another zero", true, nil, func(r *rigged, second int) { // the offset of one sensor moved since
		r.e.Pump(pressure.KPa(12 * (second / effort.Of(4, 8))))
		if second == 0 {
			r.e.SensorErrors(1, 2, 1)
		}
	}},
}

// A sensor that drifts is seen between runs, with the engine off.
func TestDriftIsSeen(t *testing.T) {
	t.Parallel()
	r := newRigged(t, engine.Config{Bank: bank.Default(4), Seed: 3})
	r.zero()
	r.feed(5)
	if d := r.chain.Drift(); !d.Seen || d.Asks {
		t.Errorf("just zeroed: %+v", d)
	}
	r.e.Start()
	r.feed(8)
	seen := r.chain.Drift().Time
	// The sensor reads 0.5 kPa more at ambient than when it was zeroed.
	setup := r.chain.Config().Setup
	gain := r.e.SensorGains()[2]
	r.e.SensorErrors(3, setup.Ambient+setup.Offsets[2]+0.5-pressure.KPa(gain*101.3), gain)
	r.feed(4)
	if d := r.chain.Drift(); d.Time > seen {
		t.Errorf("seen while the engine runs: %+v", d)
	}
	r.e.Stop()
	r.feed(15)
	d := r.chain.Drift()
	if !d.Asks || d.Channel != 2 || math.Abs(float64(d.Own[2])-0.5) > 0.05 {
		t.Errorf("after the run: %+v", d)
	}
}

// The sensors of a cold start drift as the engine warms: what both passes made right is wrong after
// minutes, the drift watch asks for a new zero at the stop, and with that it is right again. The
// gains stay.
func TestColdStartNeedsANewZero(t *testing.T) {
	t.Parallel()
	effort.ForWhole(t, "ten minutes of a simulated engine")
	s, _ := engine.ScenarioNamed("cold-start")
	r := newRigged(t, s.Config(2))
	r.edges()
	r.zero()
	r.e.Start()
	r.feed(6)
	r.e.Tee(1)
	r.feed(2)
	if _, err := r.match(22, nil); err != nil {
		t.Fatal(err)
	}
	r.e.Tee(0)
	r.feed(3)
	fresh := r.worst(8)
	r.feed(400)
	warm := r.worst(8)
	r.e.Stop()
	r.feed(15)
	d := r.chain.Drift()
	r.zero()
	r.e.Start()
	r.feed(8)
	again := r.worst(8)
	t.Logf("fresh %.3f kPa, warm %.3f, zeroed again %.3f; drift %+v", fresh, warm, again, d)
	if again > 0.1 || warm < 0.3 || !d.Asks {
		t.Errorf("fresh %.3f kPa, warm %.3f, zeroed again %.3f; drift %+v", fresh, warm, again, d)
	}
}
