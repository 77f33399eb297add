package misfire

import (
	"math"
	"math/rand/v2"
	"testing"
)

// fourFiring is an even-firing four, by the speed of its crank alone: each push speeds it up for a quarter of a
// cycle, what the engine drives slows it down all the time.
type fourFiring struct {
	period  float64    // of a cycle, s
	gain    float64    // share by which a whole push speeds the crank up
	scatter [4]float64 // of pushes, as a share
	mean    [4]float64 // pushes; 0 never fires, 1 is the usual
	lag     [4]float64 // of the hoses, s
	seems   [4]float64 // the lags that are fitted, s
	noise   [4]float64 // of the beats, s
	early   [4]float64 // by which one beat in earlyEvery comes early, as the air in its hose swings, s
	misfire float64    // probability that cylinder 1 does not fire
	shut    bool       // every shutEvery cycles the throttle is let go: see afterShut
	cycles  int
}

// earlyEvery is every how many beats at random one comes early.
const earlyEvery = 6

// A throttle that is let go has all draw more by shutShare at once, which dies away in shutFades cycles; cylinder 2
// gets charges too small to burn for shutWeak of them.
const shutEvery, shutShare, shutFades, shutWeak = 80, 0.3, 8.0, 8

// afterShut returns how many cycles after the throttle was let go one comes; ok is false where it was not.
func (e *fourFiring) afterShut(cycle int) (cycles int, ok bool) {
	return cycle % shutEvery, e.shut && cycle >= shutEvery
}

// unburnt returns how many cycles each cylinder is told not to fire in. Cylinder 1 fires first, 2, 3 and 4 after it,
// each half a cycle after the middle of its intake stroke.
func (e *fourFiring) unburnt() (told [4]int, missed int) {
	random := rand.New(rand.NewPCG(1, 2))
	var beats [4][]float64
	speed, now := 1.0, 0.0
	usual := (e.mean[0] + e.mean[1] + e.mean[2] + e.mean[3]) / 4
	for i := range 4 * (e.cycles + 8) {
		c := i % 4 // its intake
		at := now + e.lag[c] + e.noise[c]*random.NormFloat64()
		if e.early[c] > 0 && random.IntN(earlyEvery) == 0 {
			at -= e.early[c]
		}
		beats[c] = append(beats[c], at)
		f := (i + 2) % 4 // the one that fires now
		push := e.mean[f] * (1 + e.scatter[f]*random.NormFloat64())
		if f == 0 && e.misfire > 0 && random.Float64() < e.misfire {
			push = 0
			missed++
		}
		if since, ok := e.afterShut(i / 4); ok && f == 1 && since < shutWeak {
			push = 0
		}
		speed += e.gain*(push-usual) - 0.02*(speed-1) // the throttle holds it
		now += e.period / 4 / speed
	}
	start := 0.0
	w := &Watch{}
	y := Cycle{Dip: []float64{0.05, 0.3, 0.55, 0.8}, Lags: (*[MaxCylinders]float64)(append(e.seems[:],
		make([]float64, MaxCylinders-4)...))}
	for k := range e.cycles {
		y.Start, y.Period = start, beats[0][k+1]-beats[0][k]
		start += y.Period
		y.Draw = 27
		if since, ok := e.afterShut(k); ok {
			y.Draw *= 1 + shutShare*math.Exp(-float64(since)/shutFades)
		}
		y.Beat = func(c int, dip float64) (float64, float64) {
			best := math.Inf(1)
			for _, b := range beats[c] {
				if math.Abs(b-dip) < math.Abs(best-dip) {
					best = b
				}
			}
			return best, 20
		}
		for c, u := range w.Push(&y) {
			if u {
				told[c]++
			}
		}
	}
	return told, missed
}

// Beats that come early now and then, as the air in their hoses swings, look like missing pushes: the cycles after them
// are no longer than those before, and none is told but the first few. Misfires behind such hoses are told.
func TestSwingingAirIsNoMisfire(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name        string
		early       float64 // s
		misfire     float64
		least, most int // percent of those missed, cycles of the others
	}{
		{"sound, early by 0.5 ms", 0.5e-3, 0, 0, 2}, {"sound, early by 1 ms", 1e-3, 0, 0, 2},
		{"one in eight", 0, 0.125, 90, 0}, {"one in two", 0, 0.5, 70, 0},
		{"one in eight behind them", 0.5e-3, 0.125, 85, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			for y := range 4 {
				e := fourFiring{period: 0.115, gain: 0.06, cycles: 400, scatter: [4]float64{0.06, 0.06, 0.06, 0.06},
					mean: [4]float64{1, 1, 1, 1}, noise: [4]float64{3e-5, 3e-5, 3e-5, 3e-5}, misfire: c.misfire}
				e.early[y] = c.early
				told, missed := e.unburnt()
				t.Log(y, told, missed)
				if told[0] < c.least*missed/100 && c.misfire > 0 || c.misfire == 0 && told[0] > c.most ||
					max(told[1], told[2], told[3]) > c.most {
					t.Errorf("early %d: told %v, cylinder 1 missed %d", y+1, told, missed)
				}
			}
		})
	}
}

// What does not burn in the first cycles of a throttle that is let go, as after a blip, is no misfire: all draw more.
// The others are told.
func TestAShutThrottleMakesNoMisfire(t *testing.T) {
	t.Parallel()
	for _, misfire := range []float64{0, 0.125} {
		e := fourFiring{period: 0.115, gain: 0.06, cycles: 800, scatter: [4]float64{0.06, 0.06, 0.06, 0.06},
			mean: [4]float64{1, 1, 1, 1}, noise: [4]float64{3e-5, 3e-5, 3e-5, 3e-5}, misfire: misfire, shut: true}
		told, missed := e.unburnt()
		t.Log(told, missed)
		if told[0] < 60*missed/100 || told[1]+told[2]+told[3] > 0 {
			t.Errorf("misfires %g: told %v, cylinder 1 missed %d", misfire, told, missed)
		}
	}
}

// A beat that always stands off its place is a property of a hose: pulses of other draws behind a long hose have
// other shapes, a column of air swings, a lag is fitted wrong. Nobody is told not to fire for it, whether combustion
// scatters or not. A cylinder that never fires is told, behind the same hoses, once its push has been the
// quietest for long enough.
func TestAHoseIsNoDeadCylinder(t *testing.T) {
	t.Parallel()
	const early = 4e-3 // s
	usual, exact := [4]float64{3e-5, 3e-5, 3e-5, 3e-5}, [4]float64{1e-6, 1e-6, 1e-6, 1e-6}
	one := [4]float64{3e-5, 3e-5, 3e-5, 5e-6} // the shorter hose's
	for _, c := range []struct {
		name    string
		dead    bool
		scatter float64
		noise   [4]float64
		off     [4]float64 // the lags that are fitted, from those that are, s
		want    int        // cycles told at least
	}{
		{"sound", false, 0.06, usual, [4]float64{}, 0},
		{"a hose that seems longer", false, 0.06, usual, [4]float64{3: early}, 0},
		{"a hose that seems shorter", false, 0.06, usual, [4]float64{3: -early}, 0},
		{"lag wrong by two", false, 0.06, usual, [4]float64{3: 20e-3}, 0},
		{"two hoses", false, 0.06, usual, [4]float64{1: 2e-3, 3: -3e-3}, 0},
		{"no scatter of combustion", false, 0, usual, [4]float64{3: -early}, 0},
		{"nor of a hose", false, 0, one, [4]float64{3: -early}, 0},
		{"nor of a longer hose", false, 0, one, [4]float64{3: early}, 0},
		{"nor noise", false, 0, exact, [4]float64{3: -early}, 0},
		{"dead", true, 0.06, usual, [4]float64{}, 150},
		{"dead, all seem longer", true, 0.06, usual, [4]float64{2e-3, 2e-3, 2e-3, 2e-3}, 150},
		{"dead, scatters much", true, 0.15, usual, [4]float64{}, 150},
	} {
		t.Run(c.name, func(t *testing.T) {
			for dead := range 4 {
				e := fourFiring{period: 0.18, gain: 0.12, cycles: 200,
					mean: [4]float64{1, 1, 1, 1}, lag: [4]float64{20e-3, 21e-3, 19e-3, 22e-3}}
				for i := range 4 {
					e.noise[i] = c.noise[(i+dead)%4]
					e.scatter[i] = c.scatter
					e.seems[i] = e.lag[i] + c.off[(i+dead)%4]
				}
				if c.dead {
					e.mean[dead] = 0
				}
				told, _ := e.unburnt()
				t.Log(told)
				for i, n := range told {
					switch {
					case c.dead && i == dead:
						if n < c.want {
							t.Errorf("cylinder %d: told in %d cycles, want %d", i+1, n, c.want)
						}
					case n > 0:
						t.Errorf("cylinder %d fires and was told in %d cycles", i+1, n)
					}
				}
			}
		})
	}
}
