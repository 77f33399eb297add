package cycle_test

import (
	"fmt"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// Twins that fire at uneven angles have a short gap, in which no cylinder pushes, and a long one, in which both do.
// Whichever cylinder misfires, one in eight, is told, and not the other; of sound ones none is.
func TestMisfiresOfUnevenTwins(t *testing.T) {
	t.Parallel()
	for row, second := range []float64{180, 270, 450, 540, 410, 310} {
		for sick := range 3 { // 0 is none
			t.Run(fmt.Sprint(second, " ", sick), func(t *testing.T) {
				t.Parallel()
				effort.Some(t, 3*row+sick, 5)
				var told, were [8]int
				all := 0
				for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3, 4}) {
					b := bank.Default(2)
					b.FiringAngles = []float64{0, second}
					e := engine.Config{Bank: b, Seed: seed, Running: true, Lumpy: seed%2 == 0, NoSensorErrors: true,
						Defects: make([]engine.Defect, 2)}
					if sick > 0 {
						e.Defects[sick-1].Misfire = 0.125
					}
					r := record(t, e, effort.Of(24., 36.), nil)
					spans := r.followBy(cycle.Config{Channels: b.Channels, Ambient: pressure.KPa(r.ambient)})
					n, m, cycles := countMisfires(r, spans)
					t.Logf("seed %d: %v told of %v in %d cycles", seed, n[:2], m[:2], cycles)
					all += cycles
					for c := range 2 {
						told[c] += n[c]
						were[c] += m[c]
					}
				}
				for c := range 2 {
					if wrong := told[c] - were[c]; wrong > 1+all/500 {
						t.Errorf("cylinder %d: %d told of %d", c+1, told[c], were[c])
					}
					if c == sick-1 && float64(told[c]) < 0.3*float64(were[c]) {
						t.Errorf("cylinder %d: %d told of %d", c+1, told[c], were[c])
					}
				}
			})
		}
	}
}

// So it is of fours and triples that fire unevenly; where two cylinders push between the same two beats, as 2 and 4 of
// this four do, it is told of both that it may be either.
func TestMisfiresOfUnevenCranks(t *testing.T) {
	t.Parallel()
	four, tee := bank.Default(4), bank.Default(3)
	four.FiringOrder, four.FiringAngles = []int{1, 3, 2, 4}, []float64{0, 270, 450, 540}
	tee.FiringAngles = []float64{0, 180, 450}
	for row, b := range []bank.Bank{four, tee} {
		for sick := range b.Cylinders + 1 { // 0 is none
			t.Run(fmt.Sprint(b.FiringAngles, " ", sick), func(t *testing.T) {
				t.Parallel()
				effort.Some(t, row+sick, 4)
				var told, were [8]int
				either, others := 0, 0
				for _, seed := range effort.Of([]uint64{1}, []uint64{1, 2, 3, 4}) {
					e := engine.Config{Bank: b, Seed: seed, Running: true, Lumpy: seed%2 == 0, NoSensorErrors: true,
						Defects: make([]engine.Defect, b.Cylinders)}
					if sick > 0 {
						e.Defects[sick-1].Misfire = 0.125
					}
					r := record(t, e, effort.Of(24., 36.), nil)
					spans := r.follow()
					n, m, cycles := countMisfires(r, spans)
					t.Logf("seed %d: %v told of %v in %d cycles", seed, n[:b.Cylinders], m[:b.Cylinders], cycles)
					for i := range spans {
						if s := &spans[i]; s.Either[1] && s.Either[3] {
							either++
						} else if s.Either != [cycle.MaxCylinders]bool{} {
							others++
						}
					}
					for c := range b.Cylinders {
						told[c] += n[c]
						were[c] += m[c]
					}
				}
				shared := b.Cylinders == 4 && sick > 0 && sick%2 == 0
				t.Logf("%d told of either", either)
				if all := were[1] + were[3]; others > 0 || !shared && either > 2 || shared && 4*either < all {
					t.Errorf("%d told of 2 or 4, %d of others, of %d misfires", either, others, all)
				}
				for c := range b.Cylinders {
					least := 0.4 * float64(were[c])
					if b.Cylinders == 4 && c%2 > 0 {
						were[c], least = 0, 0
					}
					if told[c] > were[c]+2 || c == sick-1 && float64(told[c]) < least {
						t.Errorf("cylinder %d: %d told of %d", c+1, told[c], were[c])
					}
				}
			})
		}
	}
}
