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

// The rows of the makers' data sheets that sensor_test.go does not have: MPX4250D, 0.204 V and 18.8 mV/kPa at 5.1 V;
// MPX5010, 0.2 to 4.7 V over 10 kPa at 5 V; MPX5700 and MPX4250A by their printed functions.
func TestMoreKindsAgainstDataSheets(t *testing.T) {
	for _, c := range []struct {
		kind   string
		p      pressure.KPa
		volts  float64
		supply float64
	}{
		{"MPX4250D", 0, 0.204, 5.1}, {"MPX4250D", -100, 0.204 + 1.88, 5.1},
		{"MPX5010", 0, 0.2, 5}, {"MPX5010", -10, 4.7, 5},
		{"MPX5700", 700, 5 * (0.0012858*700 + 0.04), 5}, {"MPX4250A", 250, 5.1 * (0.004*250 - 0.04), 5.1},
		{"MPX4250A", 20, 0.204, 5.1}, {"MPXA6115A", 115, 5 * 0.94, 5},
	} {
		t.Run(fmt.Sprint(c.kind, " at ", c.p), func(t *testing.T) {
			k, err := ParseKind(c.kind)
			if err != nil {
				t.Fatal(err)
			}
			if v := k.Ratio(c.p) * c.supply; math.Abs(v-c.volts) > 0.0005 {
				t.Errorf("%s at %v kPa: %.4f V, want %.4f", c.kind, c.p, v, c.volts)
			}
		})
	}
	k, _ := ParseKind("MPX4115A")
	// One count of ten bits at a reference of the supply: 0.108 kPa (derived from the data sheet's 45 mV/kPa).
	if q := k.CountKPa(10); math.Abs(float64(q)-0.1085) > 0.0005 {
		t.Errorf("a count is %v kPa", q)
	}
	for _, k := range Catalogue() {
		if k.Source == "" || k.Error <= 0 || k.Least >= k.Most || k.Slope == 0 {
			t.Errorf("%s: %+v is incomplete", k.Name, k)
		}
	}
}

// The car service tables' two ends, typed in by hand, give the generic kind; its name reads back as the same.
func TestTwoPointKind(t *testing.T) {
	generic, _ := ParseKind("automotive-1bar")
	for _, name := range []string{"two-point 20kPa=0.79V 101.32kPa=4.00V", "Two-Point  20=0.79 101.32=4",
		"two-point 101.32kPa=4V 20kPa=0.79V at 5V"} {
		t.Run(name, func(t *testing.T) {
			k, err := ParseKind(name)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(k.Slope-generic.Slope) > 1e-15 || math.Abs(k.Intercept-generic.Intercept) > 1e-15 {
				t.Errorf("%+v", k)
			}
			again, err := ParseKind(k.Name)
			if err != nil || again != k {
				t.Errorf("%q reads back as %+v, %v", k.Name, again, err)
			}
		})
	}
	// MPX4115A's printed pairs at 5.1 V.
	k, err := ParseKind("two-point 15kPa=0.204V 115kPa=4.794V at 5.1V")
	if err != nil || math.Abs(k.Slope-0.009) > 1e-6 || math.Abs(k.Intercept+0.095) > 1e-6 ||
		!strings.HasSuffix(k.Name, "at 5.1V") {
		t.Errorf("%+v, %v", k, err)
	}
	// MPXV6115V: 2.30 V at −60 kPa, 4.60 V at 0.
	k, err = ParseKind("two-point -60kPa=2.30V 0kPa=4.60V gauge")
	if err != nil || !k.Gauge || math.Abs(float64(k.Pressure(2.3/5)+60)) > 1e-9 {
		t.Errorf("%+v, %v", k, err)
	}
	for _, wrong := range []string{"", "20kPa=0.79V", "20kPa=0.79V 20kPa=4V", "20kPa=1V 100kPa=1.01V",
		"20kPa=1V 100kPa=6V", "-20kPa=1V 100kPa=4V", "20kPa=1V 100kPa=4V 50kPa=2V", "x=1V 100kPa=4V",
		"NaN=1V 100kPa=4V", "20kPa=1V 100kPa=4V at 99V", "20kPa=1V 100kPa=4V at", "20kPa=1V 100kPa=4V odd"} {
		t.Run("wrong "+wrong, func(t *testing.T) {
			if k, err := ParseKind(TwoPointWord + " " + wrong); err == nil {
				t.Errorf("got %+v", k)
			}
		})
	}
}

// Both kinds of converter: against the sensors' own supply its drift cancels; against a reference of its own it
// doesn't, and the supply is needed.
func TestReferenceAndSupply(t *testing.T) {
	k := catalogue[0]
	const truth, supply, reference = 70.0, 4.8, 4.096
	volts := k.Ratio(truth) * supply
	count := func(ref float64) uint16 { return uint16(volts / ref * 4096) }
	for _, c := range []struct {
		ratiometric bool
		count       uint16
		setup       Setup
	}{{true, count(supply), Setup{SupplyMV: 5000}}, {false, count(reference), Setup{SupplyMV: 4800}}} {
		t.Run(fmt.Sprint("ratiometric ", c.ratiometric), func(t *testing.T) {
			a := board(1)
			a.Bits, a.ReferenceMV, a.Ratiometric = 12, 4096, c.ratiometric
			conv := NewConverter(c.setup)
			conv.Announce(a)
			s := conv.Push(&frame.Frame{N: 1, Counts: [8]uint16{c.count}})
			if math.Abs(float64(s.Absolute[0])-truth) > 0.02 {
				t.Errorf("ratiometric %v: %v kPa, want %v", c.ratiometric, s.Absolute[0], truth)
			}
		})
	}
}

func TestGainsPivotAtAmbient(t *testing.T) {
	setup := Setup{Offsets: []pressure.KPa{1.5, 0}, Gains: []float64{1.02}, Ambient: 100}
	s := setup.FromKPa(0, []float64{101.5 - 1.02*25, 75})
	if math.Abs(float64(s.Absolute[0])-75) > 1e-9 || s.Absolute[1] != 75 {
		t.Errorf("got %v", s.Absolute[:2])
	}
	if back := setup.Uncorrected(0, s.Absolute[0]); math.Abs(float64(back)-(101.5-1.02*25)) > 1e-9 {
		t.Errorf("back: %v", back)
	}
}

// A hose that still settles makes the pass longer, and its result right.
func TestZeroPassWaitsForAHoseToSettle(t *testing.T) {
	z, err := zeroRun(4, 20, func(rng *rand.Rand, c int, t float64) (float64, Rail) {
		settling := 0.0
		if c == 1 {
			settling = -3 * math.Exp(-t/1.5)
		}
		return 100 + settling + 0.1*rng.NormFloat64(), OffRails
	})
	if err != nil || math.Abs(float64(z.Offsets[1])) > 0.06 || z.Seconds > ZeroSeconds+0.01 ||
		math.Abs(float64(z.Noise[0])-0.1) > 0.01 {
		t.Errorf("%+v, %v", z, err)
	}
	_, err = zeroRun(2, 8, func(rng *rand.Rand, c int, t float64) (float64, Rail) {
		return 100 + float64(c)*0.8*rng.NormFloat64(), OffRails
	})
	var r *Refusal
	if !errors.As(err, &r) || r.Channel != 1 || !strings.Contains(r.Reason, "noisy") {
		t.Errorf("noise: %v", err)
	}
}

// The budget's share of the steps against pressures read by a converter: the largest error of a mean stays within
// it, and comes close to it.
func TestBudgetOfSteps(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	k := catalogue[0]
	q := float64(k.CountKPa(10))
	for _, noise := range []float64{0, 0.15, 0.3, 0.5} {
		t.Run(fmt.Sprint(noise, " of a step"), func(t *testing.T) {
			worst, sdSum := 0.0, 0.0
			const levels, samples = 41, 40000
			for l := range levels {
				p := 80 + q*float64(l)/levels
				var sum, sq float64
				for range samples {
					count := math.Floor(k.Ratio(pressure.KPa(p+noise*q*rng.NormFloat64())) * 1024)
					read := float64(k.Pressure((count + 0.5) / 1024))
					sum, sq = sum+read, sq+read*read
				}
				mean := sum / samples
				worst = max(worst, math.Abs(mean-p))
				sdSum += math.Sqrt(max(sq/samples-mean*mean, 0)) / levels
			}
			nan := pressure.KPa(math.NaN())
			sd := pressure.KPa(sdSum)
			if noise == 0 {
				sd = 0
			}
			b := BudgetOf(&Known{Kind: k, ZeroUncertainty: 0.01, Noise: sd, GainUncertainty: 0.001, Drift: nan})
			slack := 0.01 * q
			// Noise far below a step can't be told from none: the budget then says half a step.
			if worst > float64(b.Quantisation)*1.15+slack || noise != 0.15 &&
				float64(b.Quantisation) > 1.6*worst+2*slack {
				t.Errorf("noise %v steps: means off by up to %.4f kPa, the budget says %.4f", noise, worst,
					b.Quantisation)
			}
			if math.Abs(float64(b.Gain)-0.025) > 1e-12 || b.Offset != 0.01 || !isNaN(b.Drift) || b.Total < b.Gain {
				t.Errorf("budget %+v", b)
			}
		})
	}
	nan := math.NaN()
	b := BudgetOf(&Known{Kind: k, ZeroUncertainty: pressure.KPa(nan), Noise: pressure.KPa(nan), GainUncertainty: nan,
		Drift: pressure.KPa(nan)})
	if b.Offset != 1.5 || math.Abs(float64(b.Gain)-0.375) > 1e-12 || !isNaN(b.Noise) {
		t.Errorf("without passes: %+v", b)
	}
}

// Every verdict of a checkup.
func TestCheckupVerdicts(t *testing.T) {
	var rng *rand.Rand
	k := catalogue[0]
	quiet := func(float64) float64 { return 100 + 0.1*rng.NormFloat64() }
	pulsing := func(t float64) float64 { return 76 - 20*max(0, math.Sin(60*t)) + 0.1*rng.NormFloat64() }
	constant := func(p float64) func(float64) float64 { return func(float64) float64 { return p } }
	for _, c := range []struct {
		name   string
		others func(float64) float64
		this   func(float64) float64
		want   Verdict
	}{
		{"at rest", quiet, quiet, VerdictGood},
		{"running", pulsing, pulsing, VerdictGood},
		{"hose off", pulsing, quiet, VerdictHoseOff},
		{"stuck, running", pulsing, constant(57), VerdictDead},
		{"stuck, at rest", quiet, constant(57), VerdictDead},
		{"stuck at the air, running", pulsing, constant(100.0), VerdictDead},
		{"a sensor without noise", quiet, constant(100.0), VerdictStill},
		{"low", quiet, constant(5), VerdictRailLow},
		{"high", quiet, constant(130), VerdictRailHigh},
		{"swapped", quiet, func(float64) float64 { return 13.5 + 0.05*rng.NormFloat64() }, VerdictSwapped},
		{"noise", quiet, func(float64) float64 { return 100 + 2*rng.NormFloat64() }, VerdictNoisy},
		{"another kind", quiet, func(float64) float64 { return 80 + 0.1*rng.NormFloat64() }, VerdictOff},
		{"touching", pulsing, func(t float64) float64 { return 60 - 60*max(0, math.Sin(60*t)) }, VerdictTouches},
	} {
		t.Run(c.name, func(t *testing.T) { // not in parallel: they share random numbers
			rng = rand.New(rand.NewPCG(5, 6))
			check := NewCheckup(board(4), Setup{Ambient: 101.3})
			var f frame.Frame
			for i := 0; ; i++ {
				f = frame.Frame{Counter: uint32(i), Tick: uint32(i) * 1000, N: 4}
				for ch := range 4 {
					p := c.others(float64(i)/1000 + float64(ch)*0.007)
					if ch == 2 {
						p = c.this(float64(i) / 1000)
					}
					f.Counts[ch] = uint16(min(max(k.Ratio(pressure.KPa(p))*1024, 0), 1023))
				}
				if check.Push(&f) {
					break
				}
			}
			got := check.Channels()
			if got[2].Verdict != c.want {
				t.Errorf("%s, want %s; %+v", got[2].Verdict, c.want, got[2])
			}
			for _, ch := range []int{0, 1, 3} {
				if got[ch].Verdict != VerdictGood {
					t.Errorf("channel %d is %s", ch, got[ch].Verdict)
				}
			}
			if math.Abs(check.Rate()-1000) > 0.01 || check.Frames() != 10001 {
				t.Errorf("rate %v, %d frames", check.Rate(), check.Frames())
			}
		})
	}
}

func TestHoseFinder(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for _, running := range []bool{false, true} {
		t.Run(fmt.Sprint("running ", running), func(t *testing.T) {
			h := NewHoseFinder(board(4).PressureChannels())
			at := 0.0
			run := func(seconds float64, touched int) int {
				for end := at + seconds; at < end; at += 0.001 {
					s := Sample{Time: at, N: 4}
					for ch := range 4 {
						p := 100 + 0.1*rng.NormFloat64()
						if running {
							p = 76 - 20*max(0, math.Sin(50*at+float64(ch))) + 0.1*rng.NormFloat64()
						}
						switch {
						case ch == touched && running:
							p = 75 + 0.1*rng.NormFloat64()
						case ch == touched:
							p -= 2
						}
						s.Absolute[ch] = pressure.KPa(p)
					}
					if found := h.Push(&s); found >= 0 {
						return found
					}
				}
				return -1
			}
			run(1.3, -1)
			if !h.Ready() || run(5, -1) != -1 {
				t.Fatalf("running %v: found a hose that nobody touched", running)
			}
			for _, ch := range []int{2, 0, 3} {
				if got := run(2, ch); got != ch {
					t.Errorf("running %v: hose %d: found %d", running, ch, got)
				}
				h.Again()
				if got := run(1, ch); got != -1 {
					t.Errorf("running %v: hose %d held on: found %d once more", running, ch, got)
				}
				run(0.6, -1)
			}
		})
	}
}

// A clock that is 0.4 % fast, through batches of 16 ms.
func TestClockFit(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	held := 0
	for range 50 {
		var c ClockFit
		arrival := 0.0
		for i := range 10000 {
			board := float64(i) / 1000
			real := board / 1.004
			if real > arrival {
				arrival = real + 0.016*rng.Float64()
			}
			c.Push(board, arrival)
		}
		fast, interval := c.Error()
		if math.Abs(fast-0.004) < interval {
			held++
		}
		if math.Abs(fast-0.004) > 0.0005 || interval > 0.001 {
			t.Errorf("%v ±%v", fast, interval)
		}
	}
	if held < 40 {
		t.Errorf("%d of 50 intervals hold the truth", held)
	}
	if fast, _ := new(ClockFit).Error(); !math.IsNaN(fast) {
		t.Error("an error from nothing")
	}
}

// US Standard Atmosphere 1976: 89.876 kPa at 1000 m.
func TestCheckAmbient(t *testing.T) {
	if c := CheckAmbient(89.876, 1000); !c.Plausible || math.Abs(float64(c.Off)) > 0.01 {
		t.Errorf("%+v", c)
	}
	if c := CheckAmbient(101, 1000); c.Plausible {
		t.Errorf("%+v", c)
	}
}

// A drift watch beside every sample costs little and allocates nothing.
func BenchmarkDriftWatch(b *testing.B) {
	d := NewDriftWatch([]int{0, 1, 2, 3}, 100)
	s := Sample{N: 4}
	b.ReportAllocs()
	for i := range b.N {
		s.Time = float64(i) / 1000
		for c := range 4 {
			s.Absolute[c] = 70 + pressure.KPa(i&15)
		}
		d.Push(&s)
	}
}

// Gauge sensors alone can't read the air pressure: the assumed one stays, and each one's whole offset is
// learned. With absolute sensors on the board, their air pressure is used.
func TestZeroOfGaugeSensors(t *testing.T) {
	gauge, _ := ParseKind("MPXV6115V")
	for _, mixed := range []bool{false, true} {
		t.Run(fmt.Sprint("mixed ", mixed), func(t *testing.T) {
			setup := Setup{Kinds: []Kind{gauge, gauge, gauge}, Ambient: 99}
			if mixed {
				setup.Kinds[0] = catalogue[0]
			}
			z := NewZeroPass(setup, board(3).Channels, 0)
			for i := range 5200 {
				s := Sample{Time: float64(i) / 1000, N: 3, Absolute: [MaxChannels]pressure.KPa{99.5, 100, 99.2}}
				z.Push(&s)
			}
			got, err := z.Result()
			want := Zero{Ambient: 99, Offsets: []pressure.KPa{0.5, 1, 0.2}}
			if mixed {
				want = Zero{Ambient: 99.5, Measured: true, Offsets: []pressure.KPa{0, 0.5, -0.3}}
			}
			if err != nil || got.Ambient != want.Ambient || got.Measured != want.Measured {
				t.Errorf("mixed %v: %+v, %v", mixed, got, err)
				return
			}
			for i, o := range want.Offsets {
				if math.Abs(float64(got.Offsets[i]-o)) > 1e-9 {
					t.Errorf("mixed %v: offsets %v, want %v", mixed, got.Offsets, want.Offsets)
				}
			}
		})
	}
}
