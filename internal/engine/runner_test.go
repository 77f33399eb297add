package engine

import (
	"fmt"
	"math"
	"testing"
)

// An isothermal volume that fills through a choked orifice: its pressure rises in
// proportion to time, dp/dt = (R T/V) A p0 0.684731/sqrt(R T0) (derived).
func TestChokedRefill(t *testing.T) {
	const h, ambient = 1e-4, 100e3
	b := makeBreath()
	b.area = 5e-6
	b.setPressure(20e3)
	integral := 0.0
	for range 80 {
		integral += b.refill(h, ambient)
	}
	slope := gasConstant * runnerK / runnerM3 * 5e-6 * ambient * 0.684731 / math.Sqrt(gasConstant*outsideK)
	want := 20e3 + slope*80*h
	if got := b.pressure(); math.Abs(got-want) > 0.1 || want > criticalRatio*ambient {
		t.Errorf("after 8 ms %.2f Pa, want %.2f", got, want)
	}
	if mean := integral / (80 * h); math.Abs(mean-(20e3+want)/2) > 0.1 {
		t.Errorf("mean %.2f, want %.2f", mean, (20e3+want)/2)
	}
}

// Filling to the end: never above ambient, there in the end, also with a butterfly
// so wide that a step is long for it.
func TestRefillSettles(t *testing.T) {
	for _, area := range []float64{5e-6, 5e-5, 6e-4} {
		t.Run(fmt.Sprint(area, " m2"), func(t *testing.T) {
			b := makeBreath()
			b.area = area
			b.setPressure(30e3)
			for range 8000 {
				b.refill(stepS, 100e3)
				if b.pressure() > 100e3*(1+1e-9) {
					t.Fatalf("area %v: %v Pa", area, b.pressure())
				}
			}
			if got := b.pressure(); math.Abs(got-100e3) > 1 {
				t.Errorf("area %v: settles at %v Pa", area, got)
			}
		})
	}
}

// turnOver turns one gas path at a steady speed for so many cycles and returns the
// mean pressure in kPa of the last.
func turnOver(b *breath, rpm float64, cycles, refine int) (meanKPa float64) {
	perCycle := int(math.Round(120 / rpm / stepS))
	h := 120 / rpm / float64(perCycle*refine)
	turn := cycleDegrees / float64(perCycle*refine)
	for range cycles {
		sum := 0.0
		for i := range perCycle * refine {
			p, _ := b.advance(h, float64(i)*turn, turn, 101.3e3, 5)
			sum += p
		}
		meanKPa = sum / (120 / rpm) / 1000
	}
	return meanKPa
}

func newBreath(area float64) *breath {
	made := makeBreath()
	b := &made
	b.area = area
	b.cylinder.wall, b.cylinder.wallK, b.cylinder.leftRise = wallCoefficient, outsideK+wallRiseK, residualRisePa
	b.setPressure(101.3e3)
	return b
}

// What enters a runner leaves it or stays, and in a settled cycle what passes the
// butterfly is the charge that is trapped.
func TestMassBalance(t *testing.T) {
	b := newBreath(plateArea(idleDegrees))
	before := b.mass
	turnOver(b, UsualIdleRPM, 40, 1)
	if gained := b.mass - before; math.Abs(b.entry-b.exit-gained) > 1e-12*b.entry {
		t.Errorf("in %v, out %v, gained %v kg", b.entry, b.exit, gained)
	}
	entry, exit := b.entry, b.exit
	turnOver(b, UsualIdleRPM, 1, 1)
	if in := b.entry - entry; math.Abs(in/b.trapped-1) > 1e-6 || math.Abs((b.exit-exit)/b.trapped-1) > 1e-9 {
		t.Errorf("a cycle takes in %v, lets out %v, traps %v kg", in, b.exit-exit, b.trapped)
	}
}

// The time step is fine enough: halving it moves a cycle mean by less than 0.02 kPa,
// at idle, with the butterfly nearly shut or wide, and at speed.
func TestStepConverges(t *testing.T) {
	worst := 0.0
	for _, angle := range []float64{9, 10.45, 13, 25} {
		for _, rpm := range []float64{600, 1050, 3000} {
			t.Run(fmt.Sprintf("%v degrees, %v rpm", angle, rpm), func(t *testing.T) {
				coarse := turnOver(newBreath(plateArea(angle)), rpm, 40, 1)
				fine := turnOver(newBreath(plateArea(angle)), rpm, 40, 2)
				worst = max(worst, math.Abs(coarse-fine))
				if math.Abs(coarse-fine) > 0.02 {
					t.Errorf("plate %v degrees, %v rpm: %.4f kPa, with half the step %.4f", angle, rpm, coarse, fine)
				}
			})
		}
	}
	t.Logf("halving the step moves a cycle mean by at most %.4f kPa", worst)
}

// Pulsation: near ambient before the intake stroke, deep vacuum in it.
func TestPulsation(t *testing.T) {
	b := newBreath(plateArea(idleDegrees))
	turnOver(b, UsualIdleRPM, 30, 1)
	low, high := math.Inf(1), 0.0
	const steps = 914
	for i := range steps {
		b.advance(120/UsualIdleRPM/steps, cycleDegrees/steps*float64(i), cycleDegrees/steps, 101.3e3, 5)
		low, high = min(low, b.pressure()/1000), max(high, b.pressure()/1000)
	}
	if low < 20 || low > 50 || high < 99 || high > 104 {
		t.Errorf("from %.1f to %.1f kPa absolute", low, high)
	}
}
