package balance

import "math"

// Constants of an engine that is still warming up.
const (
	// trendSeconds is the least stretch of undisturbed idle that a trend of the
	// speed is told from. Chosen.
	trendSeconds = 15.0
	// trendShare is the change of the speed in a minute that counts, as a share,
	// and trendSigmas how many standard errors it must be off zero. Chosen: a
	// warm idle changes by less than 1 % a minute, a cold one of the practice
	// engine by 3 % (measured).
	trendShare  = 0.02
	trendSigmas = 5.0
)

// trend is the straight line through the speed of an idle that nobody disturbs.
type trend struct {
	n                     float64
	t0, v0                float64
	st, sv, stt, stv, svv float64
	last                  float64
}

// push takes the speed of a cycle; disturbed begins anew.
func (f *trend) push(t, rpm float64, disturbed bool) {
	if disturbed || f.n == 0 {
		*f = trend{t0: t, v0: rpm}
	}
	f.n++
	x, y := t-f.t0, rpm-f.v0
	f.last = x
	f.st += x
	f.sv += y
	f.stt += x * x
	f.stv += x * y
	f.svv += y * y
}

// warming reports whether the speed is still rising or falling.
func (f *trend) warming() bool {
	if f.last < trendSeconds {
		return false
	}
	xx := f.stt - f.st*f.st/f.n
	xy := f.stv - f.st*f.sv/f.n
	yy := f.svv - f.sv*f.sv/f.n
	slope := xy / xx
	// The scatter is correlated from cycle to cycle, as the crank has inertia:
	// taken as if a tenth of the cycles counted.
	error := math.Sqrt(max(yy-slope*xy, 0) / (f.n - 2) / xx * 10)
	return math.Abs(slope)*60 > trendShare*(f.v0+f.sv/f.n) && math.Abs(slope) > trendSigmas*error
}
