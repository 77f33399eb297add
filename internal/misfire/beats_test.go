package misfire

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What a fall's strength explains of its beat is learned from cycle to cycle: a usual place that is wrong while the
// falls of an engine that was just started grow explains nothing of a fall that a screw has changed later.
func TestStrengthOfAFall(t *testing.T) {
	t.Parallel()
	// In cycles; shares of the fall; a start's, measured.
	const wrong, grow, changedAt, change = 0.01, 0.03, 50, 0.01
	for slope, scatter := range map[float64]float64{0: 0.002, 0.1: 0.02} { // calm, lumpy
		random := rand.New(rand.NewPCG(1, 1))
		var f fallShift
		for k := range changedAt {
			own := scatter * random.NormFloat64()
			started := math.Exp(-float64(k) / 12)
			f.push(60*(1+own-grow*started), wrong*math.Exp(-float64(k)/40)+slope*own, k)
		}
		explained := f.push(60*(1-change), 0, changedAt)
		t.Logf("slope %g: a fall that is weaker by %g explains %.5f cycles", slope, change, explained)
		if math.Abs(explained+slope*change) > 0.0012 { // a misfire has beats some 0.005 off
			t.Errorf("slope %g: explained %.5f cycles, want %.5f", slope, explained, -slope*change)
		}
	}
}

// Beats that are missing from the start, as of a swing that is too small, are no beats at all: nothing is told.
func TestBeatsThatAreMissingFromTheStart(t *testing.T) {
	t.Parallel()
	for n := 2; n <= 4; n++ {
		w := &Watch{}
		for k := range 100 {
			y := Cycle{Start: float64(k) * 0.12, Period: 0.12, Dip: []float64{0.05, 0.3, 0.55, 0.8}[:n]}
			y.Beat = func(c int, dip float64) (moment, fall float64) {
				if c == n-1 && k < 30 {
					return math.NaN(), math.NaN()
				}
				return dip, 20
			}
			if told := w.Push(&y); told != [MaxCylinders]bool{} {
				t.Fatalf("%d cylinders, cycle %d: %v told", n, k, told)
			}
		}
	}
}
