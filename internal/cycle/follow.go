package cycle

import "math"

// Constants of following. A boundary is found by matching the half cycle
// around it against a template of the same half cycle of the cycles before.
const (
	// points of the template: half a cycle.
	points = 64
	// halfWindow is how far the template reaches to each side, in cycles.
	halfWindow = 0.25
	// reach is how far, in cycles, a boundary may lie from where the last
	// period puts it. Chosen: a hard blip changes the speed by 15 % a cycle.
	reach = 0.2
	// shifts tried to each side of the prediction.
	shifts = 25
	// forget is the share by which a new cycle renews the template.
	forget = 0.15
	// mismatch is the residual variance, as a share of the template's own,
	// above which a match is none. Chosen: 15 % scatter leaves 0.05, one
	// misfire 0.3.
	mismatch = 0.6
	// patience is how many boundaries in a row may fail to match, at which
	// the prediction is used instead. Chosen: more than two is a stall.
	patience = 2
)

// follow finds the end of each cycle at the same crank position as its start,
// from all cylinders together.
type follow struct {
	active   bool
	boundary float64 // time of the last boundary
	period   float64 // of the last cycle
	template [][points]float64
	trial    [][points]float64
	misses   int
	cost     [2*shifts + 1]float64
}

func newFollow(cylinders int) *follow {
	return &follow{template: make([][points]float64, cylinders), trial: make([][points]float64, cylinders)}
}

// begin starts following at a boundary of its choice within the newest part of
// h: the half cycle with the steepest flanks, which can be placed best.
func (f *follow) begin(h *history, period float64) {
	f.active, f.misses, f.period = true, 0, period
	end := h.newest() - halfWindow*period
	best := -1.0
	const places = 32
	for k := range places {
		t := end - period*float64(k)/places
		f.window(h, t, period)
		steep := 0.0
		for c := range f.trial {
			for i := 1; i < points; i++ {
				d := f.trial[c][i] - f.trial[c][i-1]
				steep += d * d
			}
		}
		if steep > best {
			best = steep
			f.boundary = t
		}
	}
	f.window(h, f.boundary, period)
	copy(f.template, f.trial)
}

// ready returns the time that history must have reached before next can be
// called.
func (f *follow) ready() float64 {
	return f.boundary + f.period*(1+reach)*(1+halfWindow)
}

// next finds the next boundary. ok is false when the engine is lost: it
// stalled, or the cycles no longer look alike.
func (f *follow) next(h *history) (boundary float64, ok bool) {
	best := f.scan(h)
	t := f.boundary + f.period*(1+f.refine(best))
	period := t - f.boundary
	f.window(h, t, period)
	if best == 0 || best == 2*shifts || f.residual() > mismatch*f.power() {
		f.misses++
		if f.misses > patience {
			f.active = false
			return 0, false
		}
		t, period = f.boundary+f.period, f.period
	} else {
		f.misses = 0
		f.learn()
	}
	f.boundary, f.period = t, period
	return t, true
}

// scan returns the shift whose window is most like the template.
func (f *follow) scan(h *history) (best int) {
	for s := range f.cost {
		period := f.period * (1 + shift(float64(s)))
		f.window(h, f.boundary+period, period)
		f.cost[s] = f.residual()
		if f.cost[s] < f.cost[best] {
			best = s
		}
	}
	return best
}

// shift turns a place of the scan into a share of the period.
func shift(place float64) float64 { return reach * (place - shifts) / shifts }

// refine returns the shift at the lowest point of the parabola through the best
// place and its neighbours, as a share of the period.
func (f *follow) refine(best int) float64 {
	if best == 0 || best == 2*shifts {
		return shift(float64(best))
	}
	x, y, z := f.cost[best-1], f.cost[best], f.cost[best+1]
	place := float64(best)
	if bend := x - 2*y + z; bend > 0 {
		place += (x - z) / 2 / bend
	}
	return shift(place)
}

// window fills trial with the half cycle around t.
func (f *follow) window(h *history, t, period float64) {
	step := 2 * halfWindow * period / (points - 1)
	t -= halfWindow * period
	i, _ := h.find(t)
	last := h.count - 2
	for k := range points {
		for i < last && h.time[(i+1)&h.mask] <= t {
			i++
		}
		a, b := h.time[i&h.mask], h.time[(i+1)&h.mask]
		share := (t - a) / (b - a)
		for c := range f.trial {
			f.trial[c][k] = h.value(c, i, share)
		}
		t += step
	}
}

// residual is the sum of squares of trial minus template, each cylinder's
// mean difference taken off.
func (f *follow) residual() (sum float64) {
	for c := range f.trial {
		var s, q float64
		for k, v := range f.trial[c] {
			d := v - f.template[c][k]
			s += d
			q += d * d
		}
		sum += q - s*s/points
	}
	return sum
}

// power is the sum of squares of the template about its cylinders' means.
func (f *follow) power() (sum float64) {
	for c := range f.template {
		var s, q float64
		for _, v := range f.template[c] {
			s += v
			q += v * v
		}
		sum += q - s*s/points
	}
	return math.Max(sum, float64(points*len(f.template))*pulsing*pulsing)
}

// learn renews the template with trial.
func (f *follow) learn() {
	for c := range f.template {
		for k, v := range f.trial[c] {
			f.template[c][k] += forget * (v - f.template[c][k])
		}
	}
}
