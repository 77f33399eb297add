package engine

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// counts reads n frames and returns the counts by channel.
func counts(t *testing.T, e *Engine, n int) (by [][]float64) {
	t.Helper()
	r := frame.NewReader(e)
	for range n {
		f, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		if by == nil {
			by = make([][]float64, f.N)
		}
		for i := range f.N {
			by[i] = append(by[i], float64(f.Counts[i]))
		}
	}
	return by
}

// span returns mean, least and most.
func span(v []float64) (mean, least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for _, x := range v {
		mean += x / float64(len(v))
		least, most = min(least, x), max(most, x)
	}
	return mean, least, most
}

// exact is a running four without lags, errors and noise.
func exact() Config {
	return Config{Bank: bank.Default(4), Seed: 12, Running: true, NoLag: true, NoSensorErrors: true, NoNoise: true}
}

// A delay gives a ramp back late by exactly its time.
func TestDelay(t *testing.T) {
	for _, s := range []float64{0, 0.4e-3, 1e-3, 1.23e-3, 5e-3, 1} {
		t.Run(fmt.Sprint(s, " s"), func(t *testing.T) {
			d := newDelay(s, stepS)
			d.fill(0)
			out := 0.0
			for i := range 1000 {
				out = d.step(float64(i) * stepS)
			}
			if late := 999*stepS - out; math.Abs(late-min(s, delayRoomS)) > 1e-12 {
				t.Errorf("delay of %v s is %v", s, late)
			}
		})
	}
}

// A standing engine's runners are at ambient from the first frame, wherever it stopped.
func TestStandingStill(t *testing.T) {
	for seed := range uint64(20) {
		e := New(Config{Bank: bank.Default(4), Seed: seed})
		runFor(t, e, 0.05)
		for i, c := range e.Truth().Cylinders {
			if math.Abs(float64(c.Draw)) > 1e-6 {
				t.Errorf("seed %d: cylinder %d draws %v kPa", seed, i+1, c.Draw)
			}
		}
	}
}

// A restricted hose smooths the pulse and leaves the mean.
func TestRestrictedHose(t *testing.T) {
	c := exact()
	c.NoLag, c.Smooth, c.Alike, c.Level, c.Bits = false, true, true, true, 14
	c.Hoses = []Hose{{LagS: 0.15, DelayS: 0.01}}
	e := New(c)
	by := counts(t, e, 4000)
	whole := 4000 - int(math.Round(17*120_000/e.Truth().RPM)) // 17 cycles
	m0, l0, h0 := span(by[0][whole:])
	m1, l1, h1 := span(by[1][whole:])
	if (h0-l0)/(h1-l1) > 0.35 || math.Abs(m0-m1)/16384/slopePerKPa > 0.15 {
		t.Errorf("restricted %.1f (%.0f to %.0f), free %.1f (%.0f to %.0f)", m0, l0, h0, m1, l1, h1)
	}
}

// Exchanged hoses: each channel carries the other's cylinder.
func TestExchangedHoses(t *testing.T) {
	c := exact()
	straight := counts(t, New(c), 500)
	c.Hoses = []Hose{1: {On: 3}, 2: {On: 2}}
	crossed := counts(t, New(c), 500)
	for i, want := range []int{0, 2, 1, 3} {
		a, _, _ := span(straight[want])
		b, _, _ := span(crossed[i])
		if math.Abs(a-b) > 0.3 {
			t.Errorf("channel %d reads %.2f, cylinder %d %.2f", i, b, want+1, a)
		}
	}
}

func TestSensorFaults(t *testing.T) {
	c := exact()
	c.SensorFaults = []SensorFault{SensorStuck, SensorRailLow, SensorRailHigh, SensorHoseOff}
	e := New(c)
	by := counts(t, e, 500)
	air := math.Floor((slopePerKPa*101.3 + offsetRatio) * 1024)
	for i, want := range []float64{math.Floor(stuckRatio * 1024), 0, 1023, air} {
		if _, least, most := span(by[i]); least != want || most != want {
			t.Errorf("channel %d: from %v to %v, want %v", i, least, most, want)
		}
	}
	e.FailSensor(1, SensorSound)
	e.FailSensor(9, SensorStuck)
	if _, least, most := span(counts(t, e, 500)[0]); most-least < 200 {
		t.Errorf("mended, channel 0 goes from %v to %v", least, most)
	}
}

// The converter's resolution is announced and kept to.
func TestBits(t *testing.T) {
	for _, bits := range []int{10, 12, 16} {
		t.Run(fmt.Sprint(bits), func(t *testing.T) {
			c := exact()
			c.Bits = bits
			e := New(c)
			_, least, most := span(counts(t, e, 500)[1])
			full := float64(int(1) << bits)
			if most >= full || most < 0.78*full || least > 0.65*full || e.board.about.Bits != bits {
				t.Errorf("%d bits: from %v to %v", bits, least, most)
			}
		})
	}
}

// Sparks add 0.7 V that dies away with 0.5 ms, either way, to every channel, at each spark
// and only then.
func TestSparks(t *testing.T) {
	c := exact()
	c.Lambda = true
	clean := counts(t, New(c), 3000)
	c.Sparks = true
	noisy := counts(t, New(c), 3000)
	const full = sparkV * 1000 / referenceMV * 1024
	for i := range noisy {
		up, down, hit := 0, 0, 0
		for k := range noisy[i] {
			d := noisy[i][k] - clean[i][k]
			if math.Abs(d) > full+1 {
				t.Fatalf("channel %d: %v counts beside the clean one, a spark is %v", i, d, full)
			}
			switch {
			case d > full/3:
				up++
			case d < -full/3:
				down++
			}
			if d != 0 {
				hit++
			}
		}
		// 3 s at about 1050 rpm make 105 sparks, each above a third for 0.55 of 1 ms.
		if i < 4 && (up < 10 || down < 10 || up+down < 35 || up+down > 80 || hit > 400) {
			t.Errorf("channel %d: %d up, %d down, %d samples hit", i, up, down, hit)
		}
	}
}

// Offsets walk with the sensors' temperature, by no more than asked for.
func TestDrift(t *testing.T) {
	c := exact()
	c.Running, c.Drift, c.Bits = false, 0.8, 16
	e := New(c)
	before := counts(t, e, 10)
	runFor(t, e, effort.Of(40., 80.))
	after := counts(t, e, 10)
	most := 0.0
	for i := range before {
		d := (after[i][5] - before[i][5]) / 65536 / slopePerKPa
		most = max(most, math.Abs(d))
	}
	if most > 0.8 || most < 0.1 {
		t.Errorf("drift %.3f kPa", most)
	}
}

// What the line does to frames is what was asked for, and nothing on a good line.
func TestLineFaults(t *testing.T) {
	const n = 20000
	c := Config{Bank: bank.Default(2), Seed: 5, Faults: Faults{Lost: 0.02, Duplicated: 0.03, BitErrors: 0.01,
		Overflow: 0.04}}
	r := frame.NewReader(New(c))
	for range n {
		if _, err := r.Read(); err != nil {
			t.Fatal(err)
		}
	}
	s := r.Stats()
	for _, x := range []struct {
		what string
		got  uint64
		want float64
	}{{"lost", s.Lost, 0.03}, {"duplicated", s.Duplicates, 0.03}, {"damaged", s.Damaged, 0.01},
		{"overflow", s.Overflows, 0.04}} {
		if share := float64(x.got) / n; share < 0.8*x.want || share > 1.3*x.want {
			t.Errorf("%s: %.4f of the frames, want about %v", x.what, share, x.want)
		}
	}
	if s.Restarts != 0 || s.Unreadable != 0 {
		t.Errorf("%+v", s)
	}
}

// A board that starts anew falls silent, announces another boot and counts from nought;
// the engine runs on.
func TestRestarts(t *testing.T) {
	e := New(Config{Bank: bank.Default(2), Seed: 5, Running: true, Faults: Faults{RestartEveryS: 4, Overflow: 0.01}})
	r := frame.NewReader(e)
	boots := map[string]bool{}
	fresh := 0
	for e.Truth().TimeS < 13 {
		f, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		boots[r.Board().Boot] = true
		if f.Counter == 0 {
			fresh++
			if f.Tick != 0 || f.Overflow != 0 {
				t.Errorf("begins at %+v", f)
			}
		}
	}
	if s := r.Stats(); s.Restarts != 2 && s.Restarts != 3 || len(boots) != int(s.Restarts)+1 || fresh != len(boots) ||
		s.Lost != 0 || s.Damaged != 0 {
		t.Errorf("%+v, %d boots, %d begins", s, len(boots), fresh)
	}
	if !e.Truth().Running || e.Truth().Cycles < 90 {
		t.Errorf("%+v", e.Truth())
	}
}

func TestEveryFaultIsDeterministic(t *testing.T) {
	c := Config{Bank: bank.Default(4), Seed: 77, Running: true, Lumpy: true, Sparks: true, Lambda: true, Drift: 1,
		PilotsOff: 1, PassageMM2: 1,
		Defects: []Defect{{Misfire: 0.1}}, Faults: Faults{Lost: 0.01, Duplicated: 0.01, BitErrors: 0.01, Overflow: 0.01,
			RestartEveryS: 2}}
	read := func() []byte {
		e := New(c)
		e.LockNut(0)
		p := make([]byte, 60000)
		for n := 0; n < len(p); {
			k, _ := e.Read(p[n:])
			n += k
		}
		return p
	}
	first := read()
	if again := read(); !bytes.Equal(first, again) {
		t.Error("the same seed gives other bytes")
	}
}
