package hoses

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
)

// Pulses that plainly come at other angles than the card's are told with their angles: not of few cycles, not of
// hoses that may be the cause, not of angles that wander, not of the card's own.
func TestAnglesOfAnotherCard(t *testing.T) {
	const periodS = 0.115
	even2, even3, even4 := []float64{0, 360}, []float64{0, 240, 480}, []float64{0, 180, 540, 360}
	for _, c := range []struct {
		name   string
		angles []float64 // at which they fire, by cylinder
		lagMS  []float64
		cycles int
		wander float64 // degrees
		told   bool
	}{
		{"a 180 twin", []float64{0, 180}, []float64{4, 4}, 70, 3, true},
		{"a 180 twin the other way", []float64{0, 540}, []float64{6, 3}, 70, 3, true},
		{"a 270 twin", []float64{0, 270}, []float64{15, 15}, 70, 3, true},
		{"an uneven four", []float64{0, 450, 270, 540}, []float64{4, 5, 6, 4}, 70, 3, true},
		{"its own card", even2, []float64{4, 4}, 70, 3, false},
		{"own, hoses of 4 and 20 ms", even2, []float64{4, 20}, 70, 3, false},
		{"own, four", even4, []float64{4, 12, 4, 12}, 70, 3, false},
		{"own, three", even3, []float64{4, 30, 4}, 70, 3, false},
		{"lags unknown", []float64{0, 180}, []float64{4, math.NaN()}, 70, 3, false},
		{"few cycles", []float64{0, 180}, []float64{4, 4}, 40, 3, false},
		{"angles that wander", []float64{0, 180}, []float64{4, 4}, 70, 60, false},
		{"310 degrees", []float64{0, 310}, []float64{4, 4}, 70, 3, false}, // long hoses look so
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bank.Default(len(c.angles))
			var d Dips
			for k := range c.cycles {
				s := cycle.Span{Start: periodS * float64(k), Period: periodS, Cycle: true, N: len(c.angles)}
				for i, a := range c.angles {
					s.State[i], s.Mean[i], s.Lag[i] = cycle.OK, 75, c.lagMS[i]*1e-3
					late := c.lagMS[i] * 1e-3 / periodS
					if late != late {
						late = 0.05
					}
					at := a/720 + 0.31 + late + c.wander/720*math.Sin(float64(k*(i+1)))
					s.DipAt[i] = at - math.Floor(at)
				}
				d.Push(&s)
			}
			got := d.Order(&b)
			if (got.Angles != nil) != c.told || c.told && got.Verdict == AsExpected {
				t.Fatalf("%+v, want told %v", got, c.told)
			}
			for i := range got.Angles {
				want := c.angles[i] + 720*(c.lagMS[i]-c.lagMS[0])*1e-3/periodS
				if off := math.Remainder(got.Angles[i]-want, 720); math.Abs(off) > 5 {
					t.Errorf("%v, want %.0f of cylinder %d", fmt.Sprint(got.Angles), want, i+1)
				}
			}
		})
	}
}

func TestAnglesText(t *testing.T) {
	o := Order{Angles: []float64{0, 538.2, 717}}
	if got := o.AnglesText(); got != "1 at 0, 2 at 540, 3 at 0" {
		t.Error(got)
	}
}
