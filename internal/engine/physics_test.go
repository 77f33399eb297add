package engine

import (
	"math"
	"testing"

	"evendraw/internal/bank"
)

// crossleyCook is the manifold of Crossley and Cook (1991), as published with two
// modelling tools' examples: angle in degrees, bar, rad/s; the rate of the manifold's
// pressure in bar/s at a plate angle and a speed.
func crossleyCook(angle, speed, pm float64) (rate float64) {
	f := 2.821 - 0.05231*angle + 0.10299*angle*angle - 0.00063*angle*angle*angle
	g := 1.0
	if pm > 0.5 {
		g = 2 * math.Sqrt(pm-pm*pm)
	}
	out := -0.366 + 0.08979*speed*pm - 0.0337*speed*pm*pm + 0.0001*speed*speed*pm
	return 0.41328 * (f*g - out)
}

// The integrator that moves the runner settles Crossley and Cook's manifold where the
// algebraic root is, found by bisection, and is of second order on the way.
func TestIntegratorOnPublishedManifold(t *testing.T) {
	if f := crossleyCook(9, 0, 0.4)/0.41328 - 0.366; math.Abs(f-10.233) > 5e-4 {
		t.Fatalf("throttle flow at 9 degrees %.4f g/s, derived 10.233", f)
	}
	settle := func(h, seconds float64) float64 {
		pm := 0.543
		for range int(math.Round(seconds / h)) {
			pm += midpoint(pm, h, func(p float64) float64 { return crossleyCook(9, 209, p) })
		}
		return pm
	}
	low, high := 0.05, 0.99
	for range 60 {
		if mid := (low + high) / 2; crossleyCook(9, 209, mid) > 0 {
			low = mid
		} else {
			high = mid
		}
	}
	if got := settle(1e-3, 10); math.Abs(got-low) > 1e-9 {
		t.Errorf("settles at %.9f bar, root %.9f", got, low)
	}
	exact := settle(1e-4, 0.1)
	coarse, fine := settle(0.02, 0.1)-exact, settle(0.01, 0.1)-exact
	if ratio := coarse / fine; ratio < 3.3 || ratio > 4.8 {
		t.Errorf("halving the step divides the error by %.2f, second order by 4", ratio)
	}
}

// Speed-density: published as a unit test of an open engine controller, 6.99728 l, 8
// cylinders, efficiency 0.92, 98 kPa, 293.16 K give 0.9371106624 g for each cylinder
// (in single precision).
func TestSpeedDensity(t *testing.T) {
	got := 1000 * airCharge(0.92, 98e3, 6.99728e-3/8, 293.16)
	if math.Abs(got-0.9371106624) > 1e-7 {
		t.Errorf("%.10f g, published 0.9371106624", got)
	}
}

// The engine's own charge is what speed-density makes of its runner: at an idle with
// deep pulses the volumetric efficiency over the mean pressure must be below 1.
func TestChargeIsPlausible(t *testing.T) {
	e := New(level(4))
	a := observe(t, e, 2)
	b := &e.cylinder[0]
	over := b.trapped / airCharge(1, 1000*(101.3-a.draw[0]), sweptM3, runnerK)
	if over < 0.3 || over > 0.8 {
		t.Errorf("volumetric efficiency over the runner %.2f", over)
	}
	if air := b.trapped / airCharge(1, 101.3e3, sweptM3, outsideK); math.Abs(air-idleEfficiency) > 0.04 {
		t.Errorf("volumetric efficiency over the air %.3f, first charges %v", air, idleEfficiency)
	}
	if math.Abs(b.residual-usualResidual) > 0.02 {
		t.Errorf("residual share %.3f, usual %v", b.residual, usualResidual)
	}
}

// Discharge of an inlet valve: published 0.61971 at a lift of a tenth of the diameter.
func TestValveDischarge(t *testing.T) {
	if got := valveDischarge(0.1); math.Abs(got-0.61971) > 5e-6 {
		t.Errorf("at l 0.1 %.6f, published 0.61971", got)
	}
	for l := 0.0; l <= valveLiftM/valveDiameterM; l += 0.01 {
		if c := valveDischarge(l); c < 0.35 || c > 0.75 {
			t.Errorf("at l %.2f %.3f", l, c)
		}
	}
}

// As the valve opens, burnt gas blows back: the runner's pressure rises a little above
// the air before the stroke draws it down.
func TestPulseBeginsWithASmallRise(t *testing.T) {
	b := newBreath(plateArea(idleDegrees))
	turnOver(b, UsualIdleRPM, 30, 1)
	const steps = 914
	before, highest, back := 0.0, 0.0, 0.0
	for i := range steps {
		from := cycleDegrees / steps * float64(i)
		if from < valveOpenDegrees-1 {
			before = b.pressure()
		}
		exit := b.exit
		b.advance(120/UsualIdleRPM/steps, from, cycleDegrees/steps, 101.3e3, 5)
		if from < bottomDegrees-90 {
			highest = max(highest, b.pressure())
			back = min(back, b.exit-exit)
		}
	}
	if rise := highest - before; rise < 200 || rise > 4000 || back >= 0 {
		t.Errorf("rises by %.0f Pa, most backward flow in a step %v kg", rise, back)
	}
}

// Newton's law alone, at constant volume: the gas comes to the walls' temperature as an
// exponential with m cv/(h A) (derived).
func TestHeatToTheWalls(t *testing.T) {
	b := makeBreath()
	c := &b.cylinder
	c.wall, c.wallK = 120, 400
	c.begin(400, 90e3)
	c.valve, b.area = 0, 1e-12
	area := 2*pistonM2 + 4/cylinderBoreM*c.volume
	tau := c.mass * gasConstant / (gamma - 1) / (120 * area)
	d := b.door(tau/2000, 90e3)
	for range 2000 {
		b.draw(d, 400, 0)
	}
	kelvin := (gamma - 1) * c.energy / (c.mass * gasConstant)
	if want := 400 + 500/math.E; math.Abs(kelvin-want) > 0.1 {
		t.Errorf("%.2f K after one time constant, want %.2f", kelvin, want)
	}
}

// Nothing is lost on the way through leaks, passages and rings: what entered the runners
// left them or is there.
func TestMassBalanceWithDefects(t *testing.T) {
	c := level(4)
	c.PassageMM2 = 3
	c.Defects = []Defect{{LeakMM2: 2}, {RingsMM2: 3}, {Retained: 40}, {Valve: 0.3}}
	e := New(c)
	var start [bank.MaxCylinders]breath
	start, pipe := e.cylinder, e.pipe
	runFor(t, e, 3)
	sum, through := e.pipe.passed-pipe.passed, 0.0
	for i := range e.n {
		a, b := &start[i], &e.cylinder[i]
		in := (b.entry - a.entry) - (b.exit - a.exit) + (b.passed - a.passed)
		if gained := b.mass - a.mass; math.Abs(in-gained) > 1e-11*(b.entry-a.entry) {
			t.Errorf("cylinder %d: gained %v, flows make %v kg", i+1, gained, in)
		}
		sum += b.passed - a.passed
		through = max(through, math.Abs(b.passed-a.passed))
	}
	if gained := e.pipe.mass - pipe.mass; math.Abs(gained-(e.pipe.passed-pipe.passed)) > 1e-11*through {
		t.Errorf("the pipe gained %v, flows make %v kg", gained, e.pipe.passed-pipe.passed)
	}
	if math.Abs(sum) > 1e-11*through || through == 0 {
		t.Errorf("passages make %v kg of %v", sum, through)
	}
}

// Halving the step moves the draws little with leaks, passages and rings as well.
func TestStepConvergesWithDefects(t *testing.T) {
	c := level(4)
	c.PassageMM2 = 3
	c.Defects = []Defect{{LeakMM2: 2}, {RingsMM2: 3}, {Retained: 40}, {Valve: 0.3}}
	coarse, fine := observe(t, newEngine(c, 1), 3), observe(t, newEngine(c, 2), 3)
	for i := range 4 {
		if d := math.Abs(coarse.draw[i] - fine.draw[i]); d > 0.02 {
			t.Errorf("cylinder %d: %.4f kPa apart", i+1, d)
		}
	}
}

// What each defect does to its own cylinder's draw beside the others'.
func TestDefects(t *testing.T) {
	for name, d := range map[string]Defect{
		"leak": {LeakMM2: 1}, "rings": {RingsMM2: 1.5}, "valve": {Valve: 0.2}, "retained": {Retained: 40},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := level(4)
			c.Defects = []Defect{1: d}
			e := New(c)
			a := observe(t, e, 3)
			beside := a.draw[1] - (a.draw[0]+a.draw[2]+a.draw[3])/3
			if beside > -0.5 || beside < -8 {
				t.Errorf("draws %.2f kPa beside the others", beside)
			}
			if o := e.Truth().Cylinders[1].Opening; o != 1 {
				t.Errorf("opening %v", o)
			}
			if lean := e.Truth().Cylinders[1].Lambda > e.Truth().Cylinders[0].Lambda+0.05; lean != (d.LeakMM2 > 0) {
				t.Errorf("lean is %v", lean)
			}
		})
	}
}

// Passages between the runners even the draws out.
func TestPassagesEvenOut(t *testing.T) {
	c := level(4)
	c.Level = false
	apart := observe(t, New(c), 3)
	c.PassageMM2 = 5
	joined := observe(t, New(c), 3)
	if s, j := apart.spread(4), joined.spread(4); j > 0.8*s || j < 0.1*s {
		t.Errorf("spread %.2f kPa, joined %.2f", s, j)
	}
}
