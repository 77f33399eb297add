package cycle_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"evendraw/internal/engine"
)

// method is a way to read one channel: it takes a sample and returns what a display
// would show.
type method struct {
	name string
	make func(rate float64) func(v float64) float64
}

// firstOrder is an RC filter.
func firstOrder(tau float64) func(float64) func(float64) float64 {
	return func(rate float64) func(float64) float64 {
		y, started := 0.0, false
		a := 1 - math.Exp(-1/rate/tau)
		return func(v float64) float64 {
			if !started {
				y, started = v, true
			}
			y += a * (v - y)
			return y
		}
	}
}

// ring keeps the last values of a time.
type ring struct {
	v   []float64
	n   int
	sum float64
}

func (r *ring) push(v float64) {
	r.sum += v - r.v[r.n%len(r.v)]
	r.v[r.n%len(r.v)] = v
	r.n++
}

func movingMean(seconds float64) func(float64) func(float64) float64 {
	return func(rate float64) func(float64) float64 {
		r := ring{v: make([]float64, int(seconds*rate))}
		return func(v float64) float64 {
			r.push(v)
			return r.sum / float64(min(r.n, len(r.v)))
		}
	}
}

func movingMedian(seconds float64) func(float64) func(float64) float64 {
	return func(rate float64) func(float64) float64 {
		r := ring{v: make([]float64, int(seconds*rate))}
		k, last := 0, 0.0
		return func(v float64) float64 {
			r.push(v)
			if k++; k%20 == 0 {
				s := slices.Clone(r.v[:min(r.n, len(r.v))])
				slices.Sort(s)
				last = s[len(s)/2]
			}
			return last
		}
	}
}

// butterworth is the second-order low-pass by the bilinear transform.
func butterworth(hz float64) func(float64) func(float64) float64 {
	return func(rate float64) func(float64) float64 {
		w := math.Tan(math.Pi * hz / rate)
		a0 := 1 + math.Sqrt2*w + w*w
		b := w * w / a0
		a1, a2 := 2*(w*w-1)/a0, (1-math.Sqrt2*w+w*w)/a0
		var x1, x2, y1, y2 float64
		started := false
		return func(v float64) float64 {
			if !started {
				x1, x2, y1, y2, started = v, v, v, v, true
			}
			y := b*(v+2*x1+x2) - a1*y1 - a2*y2
			x1, x2, y1, y2 = v, x1, y, y1
			return y
		}
	}
}

// methods are what a user would do instead.
var methods = []method{
	{"first order, 1 s", firstOrder(1)}, {"first order, 3 s", firstOrder(3)},
	{"moving mean, 1 s", movingMean(1)}, {"moving mean, 3 s", movingMean(3)},
	{"Butterworth 2nd, 1 Hz", butterworth(1)}, {"Butterworth 2nd, 0.3 Hz", butterworth(0.3)},
	{"median, 1 s", movingMedian(1)},
}

// TestCompare prints what a user would read otherwise, on the same recording of the
// practice engine: the difference of cylinders 1 and 2 steadily idling, rms off its
// mean over the time; and after a turn of the screw between them, how long until
// half of it shows and until what is shown stays within 0.1 kPa of the new mean.
func TestCompare(t *testing.T) {
	const turnAt, seconds = 20.0, 45.0
	c := idling(3)
	r := recordTurn(t, c, turnAt, seconds)
	truth := func(from, to float64) (mean, sd float64, n int) {
		var s, q float64
		for i := range r.cycles {
			x := &r.cycles[i]
			if x.StartS > from && x.StartS+x.PeriodS < to {
				d := float64(x.MeanAbsolute[0] - x.MeanAbsolute[1])
				s, q, n = s+d, q+d*d, n+1
			}
		}
		m := s / float64(n)
		return m, math.Sqrt(q/float64(n) - m*m), n
	}
	old, sd, n := truth(8, turnAt)
	new, _, _ := truth(35, seconds)
	var rows []string
	show := func(name string, times, values []float64) (rms float64) {
		rms, half, last := score(times, values, turnAt, old, new)
		rows = append(rows, fmt.Sprintf("%-26s %8.4f %8.2f %8.2f", name, rms, half, last))
		return rms
	}
	for _, m := range methods {
		a, b := m.make(1000), m.make(1000)
		var times, values []float64
		for i := range r.samples {
			s := &r.samples[i]
			times = append(times, s.Time)
			values = append(values, a(float64(s.Absolute[0]))-b(float64(s.Absolute[1])))
		}
		show(m.name, times, values)
	}
	times, single, ten := ours(r)
	one := show("one cycle", times, single)
	show("mean of nine cycles, 1 s", times, ten)
	t.Logf("difference of two cylinders, kPa; step of %.2f kPa by a hand of half a turn a second", new-old)
	t.Logf("%-26s %8s %8s %8s", "method", "error", "half s", "0.1 kPa s")
	for _, row := range rows {
		t.Log(row)
	}
	// Cut at another place of the crank, cycles scatter by another figure.
	t.Logf("%-26s %8.4f  (its nine-cycle mean %.4f)", "the cycles' own scatter", sd, sd/3)
	if excess := math.Sqrt(max(0, one*one-sd*sd)); excess > 0.05 || n < 80 {
		t.Errorf("one cycle: %.4f kPa rms, the cycles' own scatter is %.4f", one, sd)
	}
}

// score returns the error before a step, kPa rms, and how long after it half of it
// shows and the reading stays within 0.1 kPa, s.
func score(times, values []float64, turnAt, old, new float64) (rms, half, last float64) {
	sum, k := 0.0, 0
	half = math.NaN()
	for i, at := range times {
		v := values[i]
		if at > 10 && at < turnAt {
			sum += (v - old) * (v - old)
			k++
		}
		if at > turnAt && math.IsNaN(half) && math.Abs(v-old) > math.Abs(new-old)/2 {
			half = at - turnAt
		}
		if at > turnAt && math.Abs(v-new) > 0.1 {
			last = at - turnAt
		}
	}
	return math.Sqrt(sum / float64(k)), half, last
}

// ours gives the difference of single cycles at their ends, and the mean of nine.
func ours(r *recording) (times, single, ten []float64) {
	for _, s := range r.follow() {
		if s.Cycle {
			times = append(times, s.End())
			single = append(single, float64(s.Mean[0]-s.Mean[1]))
			from := max(0, len(single)-9)
			sum := 0.0
			for _, v := range single[from:] {
				sum += v
			}
			ten = append(ten, sum/float64(len(single)-from))
		}
	}
	return times, single, ten
}

// recordTurn records an engine whose first screw is turned by a quarter.
func recordTurn(t *testing.T, c engine.Config, at, seconds float64) *recording {
	t.Helper()
	return recordWith(t, c, seconds, func(e *engine.Engine, time float64) {
		if time >= at && time < at+0.0005 {
			e.Turn(0, 0.25)
		}
	})
}

// A step of a screw shows whole in the second cycle after it, beyond the hose's lag
// and the time the engine itself takes.
func TestStepShowsWithinTwoCycles(t *testing.T) {
	c := idling(3)
	c.Smooth = true
	r := recordTurn(t, c, 10, 16)
	spans := r.follow()
	worst := 0.0
	for i := range spans {
		s := &spans[i]
		if !s.Cycle || s.Start < 5 || s.End() > 15 {
			continue
		}
		for k := range r.cycles[:len(r.cycles)-1] {
			// The truth's cycles lie elsewhere: the span must be between the
			// three that it may touch.
			if x := &r.cycles[k]; s.Start >= x.StartS && s.Start < x.StartS+x.PeriodS {
				got := float64(s.Mean[0] - s.Mean[1])
				low, high := math.Inf(1), math.Inf(-1)
				for _, y := range r.cycles[k : k+2] {
					d := float64(y.MeanAbsolute[0] - y.MeanAbsolute[1])
					low, high = min(low, d), max(high, d)
				}
				worst = max(worst, low-got, got-high)
			}
		}
	}
	t.Logf("at most %.3f kPa outside the two true cycles that it lies in", worst)
	if worst > 0.08 {
		t.Errorf("%.3f kPa outside the two true cycles that it lies in", worst)
	}
}
