package sensor

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"evendraw/internal/frame"
	"evendraw/internal/pressure"
)

// Data sheet of the MPX4115A: at Vs = 5.1 V, 15 kPa gives 0.204 V and 115 kPa
// 4.794 V. Car service tables for the generic three-wire kind at 5 V: 20.0,
// 46.66 and 101.32 kPa give 0.79, 1.84 and 4.00 V.
func TestKindsAgainstDataSheets(t *testing.T) {
	for _, c := range []struct {
		kind     string
		p        pressure.KPa
		volts    float64
		supply   float64
		tolVolts float64
	}{
		{"MPX4115A", 15, 0.204, 5.1, 0.0005},
		{"MPX4115A", 115, 4.794, 5.1, 0.0005},
		{"MPX4115A", 100, 4.025, 5, 0.0005}, // worked out from the function
		{"automotive-1bar", 20.0, 0.79, 5, 0.005},
		{"automotive-1bar", 46.66, 1.84, 5, 0.005},
		{"automotive-1bar", 101.32, 4.00, 5, 0.005},
		{"MPXV6115V", -60, 2.30, 5, 0.005}, // worked out from the function
	} {
		t.Run(fmt.Sprint(c.kind, " at ", c.p), func(t *testing.T) {
			k, err := ParseKind(c.kind)
			if err != nil {
				t.Fatal(err)
			}
			if v := k.Ratio(c.p) * c.supply; math.Abs(v-c.volts) > c.tolVolts {
				t.Errorf("%s at %v kPa: %.4f V, want %.4f", c.kind, c.p, v, c.volts)
			}
			if p := k.Pressure(k.Ratio(c.p)); math.Abs(float64(p-c.p)) > 1e-9 {
				t.Errorf("%s: %v there and back is %v", c.kind, c.p, p)
			}
		})
	}
	if _, err := ParseKind("thumb"); err == nil {
		t.Error("a thumb is no sensor")
	}
}

func board(n int) *frame.Announcement {
	a := &frame.Announcement{Protocol: 1, Bits: 10, ReferenceMV: 5000, Ratiometric: true, Rate: 1000,
		Layout: frame.Layout(n)}
	for i := range n {
		a.Channels = append(a.Channels, frame.Channel{Role: frame.Pressure, DelayUs: uint32(112 * i)})
	}
	return a
}

func TestConverterTimeAcrossWrapAndRestart(t *testing.T) {
	c := NewConverter(Setup{})
	c.Announce(board(1))
	push := func(tick uint32, lost uint32, segment int) Sample {
		return *c.Push(&frame.Frame{Tick: tick, N: 1, Counts: [8]uint16{800}, Lost: lost, Segment: segment})
	}
	for _, step := range []struct {
		tick       uint32
		lost       uint32
		segment    int
		time, gap  float64
		breakFound bool
	}{
		{math.MaxUint32 - 500, 0, 0, 0, 0, true},
		{499, 0, 0, 0.001, 0, false},
		{3499, 2, 0, 0.004, 0.002, false},
		{77, 0, 1, 0.005, 0, true},
		{1077, 0, 1, 0.006, 0, false},
	} {
		s := push(step.tick, step.lost, step.segment)
		if math.Abs(s.Time-step.time) > 1e-9 || math.Abs(s.Gap-step.gap) > 1e-9 || s.Break != step.breakFound {
			t.Errorf("tick %d: %+v, want %+v", step.tick, s, step)
		}
	}
}

// A ramp seen by channels sampled in turn reads the same on all of them.
func TestConverterTakesOutTheSkew(t *testing.T) {
	a := board(4)
	a.Bits = 16
	c := NewConverter(Setup{})
	c.Announce(a)
	k := catalogue[0]
	for i := range 50 {
		f := frame.Frame{Counter: uint32(i), Tick: uint32(1000 * i), N: 4}
		for ch := range 4 {
			at := float64(1000*i) + float64(a.Channels[ch].DelayUs)
			f.Counts[ch] = uint16(k.Ratio(pressure.KPa(30+at/1000)) * 65536)
		}
		s := c.Push(&f)
		for ch := range 4 {
			want := pressure.KPa(30 + i)
			if d := math.Abs(float64(s.Absolute[ch] - want)); i > 0 && d > 0.003 {
				t.Fatalf("frame %d channel %d: %v, want %v", i, ch, s.Absolute[ch], want)
			}
		}
	}
}

func TestConverterRailsOffsetsAndHalfCount(t *testing.T) {
	c := NewConverter(Setup{Offsets: []pressure.KPa{1.5}})
	c.Announce(board(4))
	s := c.Push(&frame.Frame{N: 4, Counts: [8]uint16{512, 512, 2, 1022}})
	want := catalogue[0].Pressure(512.5 / 1024)
	if math.Abs(float64(s.Absolute[1]-want)) > 1e-9 || math.Abs(float64(s.Absolute[0]-want+1.5)) > 1e-9 {
		t.Errorf("got %v and %v, want %v and 1.5 less", s.Absolute[1], s.Absolute[0], want)
	}
	if s.Rails != [8]Rail{OffRails, OffRails, RailLow, RailHigh} {
		t.Errorf("rails %v", s.Rails)
	}
}

func TestGaugeSensorsAddAmbient(t *testing.T) {
	k, _ := ParseKind("MPXV6115V")
	setup := Setup{Kinds: []Kind{k}, Ambient: 95}
	s := setup.FromVolts(0, []float64{5 * k.Ratio(-25)})
	if math.Abs(float64(s.Absolute[0])-70) > 1e-9 {
		t.Errorf("got %v kPa absolute, want 70", s.Absolute[0])
	}
}

// zeroRun pushes seconds of samples made by value into a pass over n channels.
func zeroRun(n int, seconds float64, value func(rng *rand.Rand, c int, t float64) (float64, Rail)) (Zero, error) {
	z := NewZeroPass(Setup{}, board(n).Channels, 0)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range int(seconds * 1000) {
		s := Sample{Time: float64(i) / 1000, N: n}
		for c := range n {
			v, r := value(rng, c, s.Time)
			s.Absolute[c], s.Rails[c] = pressure.KPa(v), r
		}
		if z.Push(&s) {
			break
		}
	}
	return z.Result()
}

func TestZeroPassLearnsOffsets(t *testing.T) {
	offsets := []float64{1.2, -0.7, 0.1, -0.3}
	z, err := zeroRun(4, 6, func(rng *rand.Rand, c int, t float64) (float64, Rail) {
		return 99 + offsets[c] + 0.1*rng.NormFloat64(), OffRails
	})
	if err != nil {
		t.Fatal(err)
	}
	for c, o := range offsets {
		if d := z.Offsets[c] - z.Offsets[0] - pressure.KPa(o-offsets[0]); math.Abs(float64(d)) > 0.01 {
			t.Errorf("channel %d: difference of offsets wrong by %v kPa", c, d)
		}
		if z.Uncertainty[c] <= 0 || z.Uncertainty[c] > 0.01 {
			t.Errorf("channel %d: uncertainty %v", c, z.Uncertainty[c])
		}
	}
	if math.Abs(float64(z.Ambient)-98.9) > 0.01 { // the median
		t.Errorf("ambient %v", z.Ambient)
	}
}

func TestZeroPassRefuses(t *testing.T) {
	quiet := func(rng *rand.Rand) float64 { return 100 + 0.1*rng.NormFloat64() }
	for _, c := range []struct {
		name    string
		seconds float64
		channel int
		word    string
		value   func(rng *rand.Rand, c int, t float64) (float64, Rail)
	}{
		{"pulse", 6, 2, "pulses", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			if c == 2 {
				return quiet(rng) - 10*max(0, math.Sin(50*t)), OffRails
			}
			return quiet(rng), OffRails
		}},
		{"drift", 6, 1, "drifts", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			if c == 1 {
				return quiet(rng) + 0.1*t, OffRails
			}
			return quiet(rng), OffRails
		}},
		{"rail", 6, 3, "end of its range", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			if c == 3 {
				return 10, RailLow
			}
			return quiet(rng), OffRails
		}},
		{"off", 6, 0, "others", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			if c == 0 {
				return quiet(rng) + 9, OffRails
			}
			return quiet(rng), OffRails
		}},
		{"short", 3, -1, "too little", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			return quiet(rng),
				OffRails
		}},
		{"no air", 6, -1, "air pressure", func(rng *rand.Rand, c int, t float64) (float64, Rail) {
			return quiet(rng) - 60,
				OffRails
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := zeroRun(4, c.seconds, c.value)
			var r *Refusal
			if !errors.As(err, &r) {
				t.Errorf("got %v, want a refusal", err)
			} else if r.Channel != c.channel || !strings.Contains(r.Reason, c.word) {
				t.Errorf("%v", r)
			}
		})
	}
}

// A zero pass leaves out a lambda probe on the board.
func TestZeroPassLeavesOtherRolesAside(t *testing.T) {
	channels := board(3).Channels
	channels[2].Role = frame.Lambda
	z := NewZeroPass(Setup{}, channels, 0)
	for i := range 6000 {
		s := Sample{Time: float64(i) / 1000, N: 3}
		s.Absolute = [MaxChannels]pressure.KPa{99.5, 100.5, pressure.KPa(i % 97)}
		if z.Push(&s) {
			break
		}
	}
	got, err := z.Result()
	if err != nil || got.Ambient != 100 || got.Offsets[0] != -0.5 || got.Offsets[2] != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}
