package mixture

import "math"

// DefaultProbeDelayS is how long exhaust takes to the probe, and probe and controller to answer, s. Chosen: half a
// second and less are common at idle, and that twice over.
const DefaultProbeDelayS = 1.0

// probeMeans keeps the probe's mean 1/lambda at each setting of a screw: it changes in proportion to the screw's turns.
type probeMeans struct {
	delay float64
	means [MaxPoints]probeMean
	n     int
}

// probeMean is the probe at one setting.
type probeMean struct{ at, sum, n float64 }

func (m *probeMeans) clear() { m.n = 0 }

// push takes a lambda at a setting that has stood since a time. Before the delay is over the exhaust
// is still of the setting before.
func (m *probeMeans) push(now, at, lambda, since float64) {
	if math.IsNaN(lambda) || now-since < m.delay {
		return
	}
	for i := range m.means[:m.n] {
		if p := &m.means[i]; p.at == at {
			p.sum += 1 / lambda
			p.n++
			return
		}
	}
	if m.n < MaxPoints {
		m.means[m.n] = probeMean{at, 1 / lambda, 1}
		m.n++
	}
}

// line fits 1/lambda = a + b·at; ok is false with fewer than two settings.
func (m *probeMeans) line() (a, b float64, ok bool) {
	if m.n < 2 {
		return 0, 0, false
	}
	var sw, sx, sy, sxx, sxy float64
	for _, p := range m.means[:m.n] {
		y := p.sum / p.n
		sw, sx, sy, sxx, sxy = sw+p.n, sx+p.n*p.at, sy+p.n*y, sxx+p.n*p.at*p.at, sxy+p.n*p.at*y
	}
	b = (sw*sxy - sx*sy) / (sw*sxx - sx*sx)
	return (sy - b*sx) / sw, b, true
}

// lambdaAt returns the lambda at a setting: the mean there, else by the line; NaN where neither is known.
func (m *probeMeans) lambdaAt(at float64) float64 {
	for _, p := range m.means[:m.n] {
		if p.at == at {
			return p.n / p.sum
		}
	}
	if a, b, ok := m.line(); ok {
		return 1 / (a + b*at)
	}
	return math.NaN()
}
