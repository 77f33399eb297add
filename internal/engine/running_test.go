package engine

import (
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
)

// cycles runs for so many seconds and returns the cycles.
func cycles(t *testing.T, e *Engine, seconds float64) (all []Cycle) {
	t.Helper()
	e.OnCycle(func(c Cycle) { all = append(all, c) })
	runFor(t, e, seconds)
	e.OnCycle(nil)
	return all
}

// deviation returns mean and standard deviation of what f makes of cycles.
func deviation(all []Cycle, f func(*Cycle) float64) (mean, sd float64) {
	for i := range all {
		mean += f(&all[i]) / float64(len(all))
	}
	for i := range all {
		d := f(&all[i]) - mean
		sd += d * d / float64(len(all))
	}
	return mean, math.Sqrt(sd)
}

// A healthy idle is calm, but no two cycles are alike: what a difference scatters by is
// chosen, see riseScatter.
func TestScatterOfADifference(t *testing.T) {
	for n := 2; n <= effort.Of(2, 4); n++ {
		all := cycles(t, New(Config{Bank: bank.Default(n), Seed: 2, Running: true}), 20)
		_, sd := deviation(all, func(c *Cycle) float64 { return float64(c.Draw[1] - c.Draw[0]) })
		_, speed := deviation(all, (*Cycle).RPM)
		t.Logf("%d cylinders: difference scatters by %.3f kPa, speed by %.1f rpm", n, sd, speed)
		if sd < 0.03 || sd > 0.2 || speed < 5 || speed > 25 {
			t.Errorf("%d cylinders: difference scatters by %.3f kPa, speed by %.1f rpm", n, sd, speed)
		}
	}
}

// A lumpy idle wanders by about 80 to 100 rpm either way, chosen, and scatters more.
func TestLumpyIdle(t *testing.T) {
	calm := Config{Bank: bank.Default(2), Seed: 4, Running: true}
	lumpy := calm
	lumpy.Lumpy = true
	all, calmer := cycles(t, New(lumpy), effort.Of(30., 60.)), cycles(t, New(calm), effort.Of(10., 20.))
	mean, sd := deviation(all, (*Cycle).RPM)
	if sd < 30 || sd > 65 || mean < 850 {
		t.Errorf("%.0f rpm, two deviations are %.0f rpm, chosen about 80 to 100", mean, 2*sd)
	}
	difference := func(c *Cycle) float64 { return float64(c.Draw[1] - c.Draw[0]) }
	_, d := deviation(all, difference)
	t.Logf("%.0f rpm, wanders by %.0f (two deviations), difference scatters by %.2f kPa", mean, 2*sd, d)
	if _, c := deviation(calmer, difference); d < 1.5*c {
		t.Errorf("a difference scatters by %.3f kPa, at a calm idle %.3f", d, c)
	}
	for i := range all {
		if !all[i].Running {
			t.Fatal("it stalls")
		}
	}
}

// Misfires come as often as asked for, leave work undone, and a charge that does not
// burn leaves cold gas.
func TestMisfires(t *testing.T) {
	f := fire{random: rand.New(rand.NewPCG(1, 1)), events: rand.New(rand.NewPCG(1, 2)), roughness: 1}
	way := burning{phi: bestPhi, residual: usualResidual, misfire: 0.2}
	missed := 0
	for range 5000 {
		if r := f.burn(7e-5, &way, true); r.work == 0 {
			missed++
			if r.leftK != coldResidualK || r.lambda <= maxLambda {
				t.Fatalf("%+v", r)
			}
		}
	}
	if missed < 900 || missed > 1100 {
		t.Errorf("%d of 5000 misfires, want about 1000", missed)
	}
	sound, sick := level(4), level(4)
	sick.Defects = []Defect{3: {Misfire: 0.1}}
	a, b := observe(t, New(sound), 5), observe(t, New(sick), 5)
	if b.rpm > a.rpm-10 || b.most-b.least < 2*(a.most-a.least)+20 {
		t.Errorf("sound %.0f rpm (%.0f to %.0f), sick %.0f (%.0f to %.0f)", a.rpm, a.least, a.most, b.rpm, b.least,
			b.most)
	}
}

// A combustion that gave less burnt late: it leaves hotter gas than one that gave more.
func TestLateCombustionLeavesHotGas(t *testing.T) {
	f := fire{random: rand.New(rand.NewPCG(3, 1)), events: rand.New(rand.NewPCG(3, 2)), roughness: 1}
	way := burning{phi: bestPhi, residual: usualResidual}
	usual := workPerKg * 7e-5
	for range 200 {
		r := f.burn(7e-5, &way, true)
		if less := r.work/usual - 1; math.Abs(r.leftK-residualK*(1-lateHeat*less)) > 1e-6*residualK {
			t.Fatalf("work %.3f of the usual leaves gas of %.0f K", r.work/usual, r.leftK)
		}
	}
}

// More residual gas and a mixture off the best make combustion scatter more; far off it
// does not burn.
func TestScatterGrowsWithDilution(t *testing.T) {
	spread := func(phi, residual float64) (sd float64, burnt int) {
		f := fire{random: rand.New(rand.NewPCG(1, 1)), events: rand.New(rand.NewPCG(1, 2)), roughness: 1}
		way := burning{phi: phi, residual: residual}
		sum, squares := 0.0, 0.0
		for range 3000 {
			if w := f.burn(7e-5, &way, true).work; w > 0 {
				sum, squares, burnt = sum+w, squares+w*w, burnt+1
			}
		}
		m := sum / float64(burnt)
		return math.Sqrt(squares/float64(burnt)-m*m) / m, burnt
	}
	healthy, _ := spread(bestPhi, usualResidual)
	if math.Abs(healthy-workScatter) > 0.003 {
		t.Errorf("healthy: %.3f, chosen %v", healthy, workScatter)
	}
	if s, _ := spread(bestPhi, 0.25); s < 1.5*healthy {
		t.Errorf("diluted: %.3f", s)
	}
	if s, _ := spread(0.85, usualResidual); s < 1.5*healthy {
		t.Errorf("lean: %.3f", s)
	}
	if _, burnt := spread(0.65, usualResidual); burnt < 600 || burnt > 1400 {
		t.Errorf("very lean: %d of 3000 burn", burnt)
	}
	if _, burnt := spread(0.55, usualResidual); burnt != 0 {
		t.Errorf("far too lean: %d burn", burnt)
	}
}

// A cold engine drags, and warms over minutes: its speed rises and its draw drifts.
func TestWarmingUp(t *testing.T) {
	e := New(Config{Bank: bank.Default(effort.Of(1, 2)), Seed: 3, Cold: true, AirC: 12})
	if c := e.Truth().TemperatureC; c != 12 {
		t.Fatalf("starts at %v degrees", c)
	}
	e.Start()
	runFor(t, e, 8)
	cold, begin := observe(t, e, 5), e.Truth()
	runFor(t, e, 240)
	warm, end := observe(t, e, 5), e.Truth()
	if begin.Warm > 0.2 || end.Warm != 1 || end.TemperatureC < 60 || end.IdlingS < 250 || end.IdlingS > 260 {
		t.Errorf("from %+v to %+v", begin, end)
	}
	if cold.least < 700 || warm.rpm-cold.rpm < 50 || warm.rpm-cold.rpm > 300 ||
		math.Abs(warm.draw[0]-cold.draw[0]) < 0.2 {
		t.Errorf("cold %.0f rpm, %.2f kPa; warm %.0f rpm, %.2f kPa", cold.rpm, cold.draw[0], warm.rpm, warm.draw[0])
	}
}

// Thin air: the same idle speed needs wider butterflies, and the draw is less, as the
// mean pressure which the charge needs stays.
func TestThinAir(t *testing.T) {
	c := level(4)
	c.Ambient = 76
	e := New(c)
	runFor(t, e, 6)
	a := observe(t, e, 3)
	if a.rpm < 900 || a.rpm > 1150 || a.draw[0] < 8 || a.draw[0] > 18 {
		t.Errorf("%.0f rpm, draws %.2f kPa", a.rpm, a.draw[0])
	}
	if l := e.Truth().Cylinders[0].Lambda; math.Abs(l*bestPhi-math.Sqrt(76/101.3)) > 1e-9 {
		t.Errorf("lambda %.3f", l)
	}
}
