package faults

import (
	"fmt"
	"slices"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/cycle"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// A butterfly that stands open draws little and says so by its opening; a cylinder
// that breathes badly is another matter.
func TestDrawAgainstOpening(t *testing.T) {
	for _, c := range []struct {
		off  []float64
		want int
	}{
		{[]float64{24, 24.4, 23.6, 24.2}, -1}, {[]float64{24, 21, 24.2, 24.1}, 1}, {[]float64{24, 24, 27, 24.1}, 2},
		{[]float64{24, 21}, 1}, {[]float64{21, 24}, 0}, {[]float64{24, 24.9}, -1},
	} {
		t.Run(fmt.Sprint(c.off), func(t *testing.T) {
			least := slices.Repeat([]float64{mostMisfit}, len(c.off))
			if got := series.FarthestOff(c.off, least); got != c.want {
				t.Errorf("%v: odd is %d, want %d", c.off, got, c.want)
			}
		})
	}
}

// Without a zero pass an offset may be all there is to it; and whether a cylinder draws less or more is told.
func TestOffsetsMayBeTheDisagreement(t *testing.T) {
	for _, draw := range []float64{21, 27} {
		l := Look{Cycles: misfitCycles, Span: &cycle.Span{N: 4}}
		for c, d := range []float64{24, draw, 24.2, 23.9} {
			l.Draw[c], l.Opening[c], l.OpeningUncertainty[c] = d, 1, 0.01
		}
		for blind, want := range map[pressure.KPa]advice.Why{0: advice.WhyDisagree, 3: ""} {
			var d Cylinders
			for cycles := range staysMisfit {
				if d.Found[1] != "" {
					t.Errorf("offsets of %v: found after %d cycles", blind, cycles)
				}
				d.Diagnose(&l, blind)
			}
			if less := want != "" && draw < 24; d.Found[1] != want || d.DrawsLess[1] != less {
				t.Errorf("draw %v, offsets of %v: found %q, want %q; draws less: %v", draw, blind, d.Found[1], want,
					d.DrawsLess[1])
			}
		}
	}
}

// A cylinder that looks ill for too few cycles to be told is no reason to call a bank level: more are waited for, up
// to a number. So is what was found and not told yet.
func TestUntold(t *testing.T) {
	l := Look{Cycles: misfitCycles, Span: &cycle.Span{N: 4}}
	for c, d := range []float64{24, 21, 24.2, 23.9} {
		l.Draw[c], l.Opening[c], l.OpeningUncertainty[c] = d, 1, 0.01
	}
	var d Cylinders
	if d.Untold(misfitCycles) {
		t.Error("untold of cylinders that were not looked at")
	}
	d.Diagnose(&l, 0)
	if !d.Untold(misfitCycles) || d.Untold(misfitCycles+staysMisfit) {
		t.Error("a misfit is to be waited for, and not for ever")
	}
	for range staysMisfit {
		d.Diagnose(&l, 0)
	}
	if !d.Untold(misfitCycles + staysMisfit) {
		t.Errorf("found %q, and taken for told", d.Found[1])
	}
	if d.PutAside(); d.Untold(misfitCycles) {
		t.Error("put aside, and still to be told")
	}
	var m Cylinders
	for i := range 3 {
		s := cycle.Span{N: 4, Cycle: true}
		s.Misfire[2], s.State = true, [cycle.MaxCylinders]cycle.State{cycle.OK, cycle.OK, cycle.OK, cycle.OK}
		m.Push(&s, l.Draw, true)
		if want := i > 0; m.Untold(decideCycles-1) != want || m.Untold(decideCycles) {
			t.Errorf("%d misfires: untold %v, want %v, and not for ever", i+1, m.Untold(decideCycles-1), want)
		}
	}
}

// Four misfires of one cylinder, and none for a while after, are not forgotten: the bank is watched on before it is
// called level. As many of four cylinders are chance.
func TestUntoldAfterAPause(t *testing.T) {
	for _, each := range []bool{false, true} {
		var d Cylinders
		for i := range 340 {
			s := cycle.Span{N: 4, Cycle: true,
				State: [cycle.MaxCylinders]cycle.State{cycle.OK, cycle.OK, cycle.OK, cycle.OK}}
			cylinder := 2
			if each {
				cylinder = i / 30 % 4
			}
			s.Misfire[cylinder] = i%30 == 0 && i < 120
			d.Push(&s, [cycle.MaxCylinders]float64{}, true)
		}
		if got := d.Untold(decideCycles - 1); got == each {
			t.Errorf("spread over all %v: untold %v", each, got)
		}
	}
}
