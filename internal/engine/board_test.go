package engine

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/frame"
)

func TestBytesDecode(t *testing.T) {
	for _, rate := range []int{50, 300, 1000, 5000} {
		t.Run(fmt.Sprint(rate, " a second"), func(t *testing.T) {
			e := New(Config{Bank: bank.Default(4), Seed: 7, Rate: rate, Running: true})
			r := frame.NewReader(e)
			var first, f frame.Frame
			for i := range 3*rate + 1 {
				var err error
				if f, err = r.Read(); err != nil {
					t.Fatal(err)
				}
				if i == 0 {
					first = f
				}
			}
			if s := r.Stats(); s.Damaged+s.Lost+s.Duplicates+s.Overflows+s.Restarts+s.Unannounced+s.Unreadable != 0 {
				t.Errorf("rate %d: %+v", rate, s)
			}
			if s := r.Stats(); s.Announcements < 4 {
				t.Errorf("rate %d: %d announcements in three seconds", rate, s.Announcements)
			}
			if first.Tick != 0 || first.Counter != 0 || f.Tick != 3_000_000 || f.Counter != uint32(3*rate) {
				t.Errorf("rate %d: from frame %d at %d µs to frame %d at %d µs", rate, first.Counter, first.Tick,
					f.Counter, f.Tick)
			}
			b := r.Board()
			if b.Model != "practice" || b.Serial != "PRACTICE" || !b.Ratiometric || b.ReferenceMV != 5000 ||
				b.Bits != 10 ||
				b.Rate != rate || len(b.Channels) != 4 {
				t.Errorf("rate %d: announcement %+v", rate, b)
			}
			if last := b.Channels[3].DelayUs; last == 0 || int(last) >= 1_000_000/rate {
				t.Errorf("rate %d: channel 3 is sampled after %d µs", rate, last)
			}
		})
	}
}

// Channels that no cylinder is on are announced as spare and read 0.
func TestChannelsByBank(t *testing.T) {
	b := bank.Default(2)
	b.Channels = []int{5, 1}
	r := frame.NewReader(New(Config{Bank: b}))
	f, err := r.Read()
	if err != nil || f.N != 6 {
		t.Fatalf("%d channels, %v", f.N, err)
	}
	for i, c := range r.Board().Channels {
		used := i == 5 || i == 1
		if used != (c.Role == frame.Pressure) || used != (f.Counts[i] > 800) || !used && f.Counts[i] != 0 {
			t.Errorf("channel %d: %+v, count %d", i, c, f.Counts[i])
		}
	}
}

// Cutting the reads elsewhere gives the same bytes; another seed gives others.
func TestDeterministic(t *testing.T) {
	read := func(seed uint64, sizes ...int) []byte {
		e := New(Config{Bank: bank.Default(4), Seed: seed, Running: true})
		var out []byte
		for i := 0; len(out) < 50_000; i++ {
			p := make([]byte, min(sizes[i%len(sizes)], 50_000-len(out)))
			n, err := e.Read(p)
			if n == 0 || err != nil {
				t.Fatalf("read %d bytes: %v", n, err)
			}
			out = append(out, p[:n]...)
			if len(out) == 50_000 {
				return out
			}
		}
		return out
	}
	want := read(1, 4096)
	if !bytes.Equal(read(1, 4096), want) || !bytes.Equal(read(1, 1, 7, 300, 24), want) {
		t.Error("the same seed gives other bytes")
	}
	if bytes.Equal(read(2, 4096), want) {
		t.Error("another seed gives the same bytes")
	}
}

// What is switched off leaves the engine itself as it was.
func TestOptionsLeaveTheEngineAlone(t *testing.T) {
	full := New(Config{Bank: bank.Default(4), Seed: 4, Running: true})
	exact := New(Config{Bank: bank.Default(4), Seed: 4, Running: true, NoLag: true, NoSensorErrors: true,
		NoNoise: true})
	a, b := observe(t, full, 2), observe(t, exact, 2)
	if a != b {
		t.Errorf("%+v\nwithout sensor errors %+v", a, b)
	}
}

// Without errors, lag and noise the counts show the true cycle means, to
// a hundredth of a kPa over many cycles (chords over 1 ms) and two for one (the
// converter's step). Transfer function: published in the MPX4115A datasheet.
func TestCountsTellTheTruth(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 11, Running: true, NoLag: true, NoSensorErrors: true, NoNoise: true})
	var cycles []Cycle
	e.OnCycle(func(c Cycle) { cycles = append(cycles, c) })
	r := frame.NewReader(e)
	var kpa [4][]float64
	for range 4000 {
		f, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		for i := range 4 {
			kpa[i] = append(kpa[i], ((float64(f.Counts[i])+0.5)/1024+0.095)/0.009)
		}
	}
	for i := range 4 {
		off, worst := 0.0, 0.0
		for _, c := range cycles[5:25] {
			d := mean(kpa[i], c.StartS*1000-float64(r.Board().Channels[i].DelayUs)/1000,
				c.PeriodS*1000) - float64(c.MeanAbsolute[i])
			off += d / 20
			worst = max(worst, math.Abs(d))
		}
		if math.Abs(off) > 0.01 || worst > 0.02 {
			t.Errorf("cylinder %d: counts read %.4f kPa beside the truth, in one cycle %.4f", i+1, off, worst)
		}
	}
}

// pressures reads n frames of an engine without lags, errors and noise and returns
// the absolute pressures in kPa by cylinder, and the channels' delays in s.
func pressures(t *testing.T, b bank.Bank, n int) (kpa [][]float64, delays []float64) {
	t.Helper()
	r := frame.NewReader(New(Config{Bank: b, Seed: 6, Running: true, NoLag: true, NoSensorErrors: true, NoNoise: true}))
	kpa = make([][]float64, b.Cylinders)
	for range n {
		f, err := r.Read()
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range b.Channels {
			kpa[i] = append(kpa[i], (float64(f.Counts[c])/1024+0.095)/0.009)
		}
	}
	for _, c := range b.Channels {
		delays = append(delays, float64(r.Board().Channels[c].DelayUs)/1e6)
	}
	return kpa, delays
}

// A channel is sampled as much after the tick as the announcement says: the same
// cylinder on another channel reads what comes that much later.
func TestChannelsAreSampledInTurn(t *testing.T) {
	b := bank.Default(4)
	straight, early := pressures(t, b, 3000)
	b.Channels = []int{3, 2, 1, 0}
	crossed, late := pressures(t, b, 3000)
	for i := range straight {
		product, square := 0.0, 0.0
		for k := 1; k < 2999; k++ {
			slope := (straight[i][k+1] - straight[i][k-1]) / 2e-3
			product += slope * (crossed[i][k] - straight[i][k])
			square += slope * slope
		}
		if got, want := product/square, late[i]-early[i]; math.Abs(got-want) > 30e-6 {
			t.Errorf("cylinder %d: sampled %.0f µs later, announced %.0f", i+1, got*1e6, want*1e6)
		}
	}
}

// The pulses come as the cylinders fire: published for a four 1-2-4-3 at 180
// degrees (a motorcycle's service manual), a twin 270-450 (an encyclopaedia's table).
func TestDipsComeInFiringOrder(t *testing.T) {
	twin := bank.Default(2)
	twin.FiringAngles = []float64{0, 270}
	for _, b := range []bank.Bank{bank.Default(2), bank.Default(3), bank.Default(4), twin} {
		t.Run(fmt.Sprint(b.Cylinders, " ", b.FiringAngles), func(t *testing.T) {
			kpa, _ := pressures(t, b, 400)
			var dip []int
			for i := range kpa { // cylinder 1's first dip, then the others' next after it
				from := 0
				if i > 0 {
					from = max(dip[0]-10, 0)
				}
				low := from
				for k := from; k < from+115 && k < 400; k++ {
					if kpa[i][k] < kpa[i][low] {
						low = k
					}
				}
				dip = append(dip, low)
			}
			period := 0 // cylinder 1's next dip
			for k := dip[0] + 60; k < dip[0]+160; k++ {
				if period == 0 || kpa[0][k] < kpa[0][dip[0]+period] {
					period = k - dip[0]
				}
			}
			for i := range kpa {
				late := float64(dip[i]-dip[0]) / float64(period) * 720
				if off := math.Remainder(late-b.FiringAngle(i+1), 720); math.Abs(off) > 25 {
					t.Errorf("n %d: cylinder %d dips %.0f degrees after cylinder 1, fires %v after", b.Cylinders, i+1,
						late, b.FiringAngle(i+1))
				}
			}
		})
	}
}

// mean returns the mean of samples one apart over a span, straight between them.
func mean(samples []float64, from, span float64) float64 {
	const parts = 5000
	sum := 0.0
	for i := range parts {
		at := from + span*(float64(i)+0.5)/parts
		k := int(at)
		sum += samples[k] + (at-float64(k))*(samples[k+1]-samples[k])
	}
	return sum / parts
}

// Published in the MPX4115A datasheet, at its 5.1 V: 0.204 V at 15 kPa, 4.794 V at
// 115 kPa; at 5.0 V 100 kPa gives 4.025 V (derived). Clamped at both ends.
func TestTransferAndConverter(t *testing.T) {
	c := channel{gain: 1, steps: 1024}
	for _, p := range []struct{ kpa, volts, supply float64 }{{15, 0.204, 5.1}, {115, 4.794, 5.1}, {100, 4.025, 5.0}} {
		t.Run(fmt.Sprint(p.kpa, " kPa"), func(t *testing.T) {
			want := uint16(p.volts / p.supply * 1024)
			if got := c.read(p.kpa, 0, 0, nil); got != want {
				t.Errorf("%v kPa: count %d, want %d", p.kpa, got, want)
			}
		})
	}
	if c.read(0, 0, 0, nil) != 0 || c.read(200, 0, 0, nil) != 1023 {
		t.Error("counts are not clamped")
	}
}

// A first-order lag answers a ramp, once settled, late by its time constant
// (derived), and keeps a steady input.
func TestLag(t *testing.T) {
	l := newLag(3e-3, stepS)
	for i := range 1000 {
		l.step(float64(i)*stepS, float64(i+1)*stepS)
	}
	if late := 1000*stepS - l.out; math.Abs(late-3e-3) > 1e-9 {
		t.Errorf("late by %v s", late)
	}
	l.out = 50
	if math.Abs(l.step(50, 50)-50) > 1e-12 {
		t.Errorf("a steady input moves it to %v", l.out)
	}
	none := newLag(0, stepS)
	if none.step(1, 2) != 2 {
		t.Error("without a lag the output is not the input")
	}
}

// The errors of the sensors stay within their bounds and differ.
func TestSensorErrors(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	c := Config{Bits: DefaultBits}
	seen := map[float64]bool{}
	for range 500 {
		ch := newChannel(&c, 0, stepS, chances{random, random})
		if math.Abs(ch.offset) > 1.5 || math.Abs(ch.gain-1) > 0.01 || ch.noise != noiseKPa {
			t.Fatalf("%+v", ch)
		}
		seen[ch.offset] = true
	}
	if len(seen) < 500 {
		t.Error("offsets repeat")
	}
	ch := channel{gain: 1, noise: noiseKPa, steps: 1024, kind: Transfer{Slope: slopePerKPa, Intercept: offsetRatio}}
	sum, squares := 0.0, 0.0
	const n = 20000
	for range n {
		v := float64(ch.read(60, 0, 0, random))
		sum += v
		squares += v * v
	}
	// The converter's step adds 1/12 to the variance in counts.
	want := math.Sqrt(math.Pow(noiseKPa*slopePerKPa*1024, 2) + 1.0/12)
	if got := math.Sqrt(squares/n - sum/n*sum/n); math.Abs(got/want-1) > 0.15 {
		t.Errorf("noise %v counts rms, want %v", got, want)
	}
}

func TestNothingIsAllocatedPerFrame(t *testing.T) {
	e := New(Config{Bank: bank.Default(4), Seed: 1, Running: true, Lumpy: true, Sparks: true, Lambda: true, Drift: 1,
		PassageMM2: 1,
		Defects:    []Defect{{Misfire: 0.1, LeakMM2: 1, RingsMM2: 1}}, Screws: []ScrewHabit{{Play: 0.1, Jerk: 0.1}},
		Faults: Faults{Lost: 0.01, Duplicated: 0.01, BitErrors: 0.01, Overflow: 0.01}})
	p := make([]byte, e.board.frameLen())
	e.Turn(0, 1)
	if got := testing.AllocsPerRun(2500, func() { io.ReadFull(e, p) }); got != 0 {
		t.Errorf("%v allocations per frame, everything on", got)
	}
	e = New(Config{Bank: bank.Default(4), Seed: 1, Running: true})
	if got := testing.AllocsPerRun(2500, func() { io.ReadFull(e, p) }); got != 0 {
		t.Errorf("%v allocations per frame", got)
	}
	if n, err := e.Read(nil); n != 0 || err != nil {
		t.Errorf("reading nothing: %d, %v", n, err)
	}
}
