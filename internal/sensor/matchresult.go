package sensor

import (
	"math"

	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// channelLine is one channel's line against the mean of the others.
type channelLine struct {
	line
	withIntercept line // not through 0, where the span allows it
	hasIntercept  bool
	bend          pressure.KPa // NaN unknown
	interval      float64      // half-width of the slope's 95 % interval
}

// Result returns what was learned, or a *Refusal.
func (m *MatchPass) Result() (Match, error) {
	if r := m.faultOfPass(); r != nil {
		return Match{}, r
	}
	lines := make([]channelLine, len(m.used))
	for k := range m.used {
		lines[k] = m.lineOf(k)
	}
	if r := m.faultOfLines(lines); r != nil {
		return Match{}, r
	}
	gains := m.gains(lines)
	out := Match{Gains: make([]float64, m.n), Blocks: len(m.points[0]), Seconds: m.last - m.began}
	nan := math.NaN()
	for i := range m.n {
		out.Gains[i] = 1
		out.Uncertainty = append(out.Uncertainty, nan)
		out.Residual = append(out.Residual, pressure.KPa(nan))
		out.Bend = append(out.Bend, pressure.KPa(nan))
	}
	for k, i := range m.used {
		out.Gains[i], out.Uncertainty[i] = gains[k], lines[k].interval
		out.Residual[i], out.Bend[i] = pressure.KPa(lines[k].ResidualSD), lines[k].bend
	}
	if k, most := worst(gains, func(g float64) float64 { return math.Abs(g - 1) }); most > matchMaxGain {
		return Match{}, refuse(m.used[k], "moves by %.1f %% %s than the others: hose not tight on the source, wrong "+
			"sensor kind, or a broken sensor",
			100*most, map[bool]string{true: "more", false: "less"}[gains[k] > 1])
	}
	out.Level, out.Span = m.levels()
	for k, i := range m.used {
		if u := lines[k].interval; u > MatchMaxUncertainty {
			return Match{}, refuse(i,
				"is known to ±%.2f %% only, ±%.2f %% is needed: watch longer, or further from the air "+
					"pressure than %.0f kPa",
				100*u, 100*MatchMaxUncertainty, float64(out.Level))
		}
	}
	return out, nil
}

// faultOfPass returns why no line can be drawn at all, nil if it can.
func (m *MatchPass) faultOfPass() *Refusal {
	if len(m.used) < 2 {
		return refuse(-1, "there is %d pressure channel: nothing to match it with", len(m.used))
	}
	for _, i := range m.used {
		if share := float64(m.rails[i]) / float64(max(m.samples, 1)); share > zeroMaxRail {
			return refuse(i, "is at the end of its range in %.0f %% of the samples: sensor or wire", 100*share)
		}
	}
	if len(m.points[0]) == 0 {
		return refuse(-1, "no second of steady samples in %.1f s", m.last-m.began)
	}
	if m.awayBlocks < matchMinBlocks {
		_, span := m.levels()
		return refuse(-1, "the span is too small to tell: %d s at least %.0f kPa from the air pressure, %d s are "+
			"needed (the most was %.1f kPa)", m.awayBlocks, float64(MatchMinLevel), matchMinBlocks, float64(span))
	}
	return nil
}

// others returns the mean of the other channels' points.
func (m *MatchPass) others(k int) []float64 {
	x := make([]float64, len(m.points[k]))
	for j, p := range m.points {
		for b, v := range p {
			if j != k {
				x[b] += v / float64(len(m.points)-1)
			}
		}
	}
	return x
}

// lineOf fits a channel's line. The mean of n-1 channels has 1/(n-1) of the variance of one.
func (m *MatchPass) lineOf(k int) channelLine {
	x, y := m.others(k), m.points[k]
	ratio := float64(len(m.used) - 1)
	l := channelLine{line: fitBoth(x, y, ratio, true), bend: pressure.KPa(math.NaN())}
	least, most, square := x[0], x[0], 0.0
	for _, v := range x {
		least, most = min(least, v), max(most, v)
		square += v * v
	}
	if most-least >= float64(MatchMinLevel) {
		l.hasIntercept = true
		l.withIntercept = fitBoth(x, y, ratio, false)
		if c, _, err := fitParabola(x, y); err == nil && hasMiddle(x, least, most) {
			half := (most - least) / 2
			l.bend = pressure.KPa(-c[2] * half * half)
		}
	}
	level := math.Sqrt(square / float64(len(x)))
	zero := float64(m.zero[k]) / level
	l.interval = math.Hypot(series.Student95(float64(len(x)-1))*l.SlopeSD, zero)
	return l
}

// hasMiddle reports whether enough of x lie in the middle third between least and most to show a
// bend.
func hasMiddle(x []float64, least, most float64) bool {
	const enough = 3 // points, chosen
	n := 0
	for _, v := range x {
		if part := (v - least) / (most - least); part > 1.0/3 && part < 2.0/3 {
			n++
		}
	}
	return n >= enough
}

// worst returns which of values is the worst, and how bad it is.
func worst[T any](values []T, bad func(T) float64) (which int, most float64) {
	most = math.Inf(-1)
	for k, v := range values {
		if b := bad(v); b > most {
			which, most = k, b
		}
	}
	return which, most
}

// faultOfLines returns why a channel can't be matched, nil if all can: the plainest fault first, and of the
// channels that have it the worst, as a bad channel also spoils the mean of the others.
func (m *MatchPass) faultOfLines(lines []channelLine) *Refusal {
	if k, _ := worst(lines, func(l channelLine) float64 { return -l.Slope }); !(lines[k].Slope > matchMinSlope) {
		return refuse(m.used[k], "hardly moves with the others: is its hose on the source?")
	}
	for k := range lines {
		if r, rms := m.swing.correlation(k, len(m.used)); rms > matchMinRipple && r < matchMinCorrelation {
			return refuse(m.used[k],
				"pulses at other times than the others: all hoses must be on one and the same port, by "+
					"a tee")
		}
	}
	k, most := worst(lines, func(l channelLine) float64 {
		if !l.hasIntercept || math.Abs(l.withIntercept.Intercept) < 3*l.withIntercept.InterceptSD {
			return 0
		}
		return math.Abs(l.withIntercept.Intercept)
	})
	if most > float64(matchMaxIntercept) {
		return refuse(m.used[k], "reads %+.2f kPa where the others are at the air pressure: zero the sensors first",
			-lines[k].withIntercept.Intercept)
	}
	if k, most = worst(lines, func(l channelLine) float64 { return l.ResidualSD }); most > float64(matchMaxResidual) {
		return refuse(m.used[k], "does not follow the others (%.2f kPa rms off its line): not the same source, or a "+
			"leaking or half blocked hose", most)
	}
	return nil
}

// gains turns each channel's slope h against the mean of the others into gains g:
//
//	g = S·h/(n-1+h),  S the sum of all g,  weighted mean of log g = 0
//
// The weights are 1 over the square of the kind's error band.
func (m *MatchPass) gains(lines []channelLine) []float64 {
	n := float64(len(lines))
	g := make([]float64, len(lines))
	var log, weights float64
	for k := range lines {
		h := lines[k].Slope
		g[k] = n * h / (n - 1 + h)
		w := 1 / float64(m.kinds[k].Error*m.kinds[k].Error)
		log += w * math.Log(g[k])
		weights += w
	}
	for k := range g {
		g[k] /= math.Exp(log / weights)
	}
	return g
}

// levels returns the mean vacuum of the points away from ambient, and the span of all points and 0.
func (m *MatchPass) levels() (level, span pressure.KPa) {
	n := 0
	least, most := 0.0, 0.0
	for b := range m.points[0] {
		v := 0.0
		for k := range m.points {
			v += m.points[k][b] / float64(len(m.points))
		}
		least, most = min(least, v), max(most, v)
		if math.Abs(v) >= float64(MatchMinLevel) {
			level += pressure.KPa(v)
			n++
		}
	}
	return level / pressure.KPa(max(n, 1)), pressure.KPa(most - least)
}
