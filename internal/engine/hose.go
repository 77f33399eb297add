package engine

import "math"

// What a hose does beside its delay and lag: a jet that fills a volume, and air that swings.

// jet is a volume that fills and empties through a nozzle; without a rate it passes its input on.
type jet struct {
	kpa  float64
	rate float64 // of filling where the flow is choked, over the upstream pressure, a step
}

// newJet returns the jet of a hose, for steps of h s. For an isothermal volume, V dp/dt = A sqrt(R T) p psi.
func newJet(fit *Hose, h float64) jet {
	if fit.JetMM2 <= 0 || fit.VolumeCC <= 0 {
		return jet{}
	}
	return jet{rate: h * fit.JetMM2 / fit.VolumeCC * math.Sqrt(gasConstant*outsideK)}
}

func (j *jet) step(in float64) float64 {
	if j.rate == 0 {
		return in
	}
	up, down, sign := in, j.kpa, 1.0
	if up < down {
		up, down, sign = down, up, -1
	}
	by := j.rate * up * nozzle(down/up, plateSteepest)
	j.kpa += sign * min(by, math.Abs(in-j.kpa))
	return j.kpa
}

// ring is the swinging of the air in a hose, a damped oscillator; without a frequency it passes
// its input on.
type ring struct {
	out, speed float64 // kPa, kPa/s
	h, w, d    float64 // step s, 2 pi frequency, share of the critical damping
}

func newRing(fit *Hose, h float64) ring {
	r := ring{h: h, w: 2 * math.Pi * fit.RingHz, d: fit.RingDamping}
	if r.d == 0 {
		r.d = 0.3
	}
	return r
}

// step is Euler's with the new speed, which keeps an oscillator's energy.
func (r *ring) step(in float64) float64 {
	if r.w == 0 {
		return in
	}
	r.speed += r.h * (r.w*r.w*(in-r.out) - 2*r.d*r.w*r.speed)
	r.out += r.h * r.speed
	return r.out
}

// Pinch squeezes the hose of a cylinder's sensor, counted from 1, while all goes on: its time constant is
// lagS s from now on.
func (e *Engine) Pinch(cylinder int, lagS float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		c := &e.channel[cylinder-1]
		out := c.hose.out
		c.hose = newLag(lagS, e.step)
		c.hose.out = out
	}
}

// Wet puts water on what leaks into the runner of a cylinder, counted from 1: a part of the leak, 0 to 1, is shut
// for so long, s.
func (e *Engine) Wet(cylinder int, part, seconds float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.wetS[cylinder-1] = seconds
		e.cylinder[cylinder-1].leak = e.leakOf(cylinder-1) * (1 - part)
	}
}

// leakOf returns the area of the dry leak of cylinder i + 1, m².
func (e *Engine) leakOf(i int) float64 { return at(e.config.Defects, i).LeakMM2 / 1e6 }

// dry lets what is wet dry for h s.
func (e *Engine) dry(h float64) {
	for i := range e.n {
		if e.wetS[i] <= 0 {
			continue
		}
		if e.wetS[i] -= h; e.wetS[i] <= 0 {
			e.cylinder[i].leak = e.leakOf(i)
		}
	}
}
