package hoses

import (
	"fmt"
	"math"
	"testing"
)

func TestPulseOrder(t *testing.T) {
	for _, c := range []struct {
		name   string
		firing []float64 // by cylinder
		swap   [2]int    // cylinders whose hoses are exchanged; 0 is none
		want   string    // verdict, pairs, alternatives
	}{
		{"1-2-4-3", []float64{0, 180, 540, 360}, [2]int{}, "as-expected [] []"},
		{"1-2-4-3", []float64{0, 180, 540, 360}, [2]int{1, 2}, "exchanged [[1 2]] []"},
		{"1-2-4-3", []float64{0, 180, 540, 360}, [2]int{3, 4}, "exchanged [[3 4]] []"},
		{"1-2-4-3", []float64{0, 180, 540, 360}, [2]int{2, 4}, "exchanged [[2 4]] []"},
		{"1-2-4-3", []float64{0, 180, 540, 360}, [2]int{1, 4}, "exchanged [[2 3]] [[1 4]]"},
		{"1-3-4-2", []float64{0, 540, 180, 360}, [2]int{}, "as-expected [] []"},
		{"1-3-4-2", []float64{0, 540, 180, 360}, [2]int{1, 3}, "exchanged [[1 3]] []"},
		{"360 twin", []float64{0, 360}, [2]int{}, "cannot-tell [] []"},
		{"180 twin", []float64{0, 180}, [2]int{}, "as-expected [] []"},
		{"180 twin", []float64{0, 180}, [2]int{1, 2}, "exchanged [[1 2]] []"},
		{"270 twin", []float64{0, 270}, [2]int{}, "as-expected [] []"},
		{"270 twin", []float64{0, 270}, [2]int{1, 2}, "exchanged [[1 2]] []"},
		{"triple", []float64{0, 240, 480}, [2]int{}, "as-expected [] []"},
		{"triple", []float64{0, 240, 480}, [2]int{1, 3}, "exchanged [[2 3]] [[1 2] [1 3]]"},
		{"V4", []float64{0, 180, 450, 630}, [2]int{}, "as-expected [] []"},
		{"V4", []float64{0, 180, 450, 630}, [2]int{1, 2}, "exchanged [[1 2]] []"},
		{"V4", []float64{0, 180, 450, 630}, [2]int{1, 3}, "exchanged [[1 3]] []"},
		{"crossplane", []float64{0, 450, 270, 540}, [2]int{}, "as-expected [] []"},
		{"crossplane", []float64{0, 450, 270, 540}, [2]int{2, 4}, "exchanged [[2 4]] []"},
		{"crossplane", []float64{0, 450, 270, 540}, [2]int{1, 3}, "exchanged [[1 3]] []"},
	} {
		t.Run(fmt.Sprint(c.name, c.swap), func(t *testing.T) {
			for turn := range 4 {
				// Hoses lag by up to 25 degrees.
				dips := make([]float64, len(c.firing))
				for i, a := range c.firing {
					at := math.Mod(a+300+float64(turn)*170+[]float64{0, 25, 10, 20}[i], 720)
					dips[i] = at / 720
				}
				if s := c.swap; s[0] > 0 {
					dips[s[0]-1], dips[s[1]-1] = dips[s[1]-1], dips[s[0]-1]
				}
				got := PulseOrder(dips, c.firing)
				if s := fmt.Sprintf("%s %v %v", got.Verdict, got.Exchanged, got.Alternatives); s != c.want {
					t.Fatalf("turned %d: %s, want %s (off %.1f)", turn, s, c.want, got.Off)
				}
			}
		})
	}
	if got := PulseOrder([]float64{0, math.NaN()}, []float64{0, 180}); got.Verdict != CannotTell {
		t.Errorf("a dead channel: %+v", got)
	}
	if got := PulseOrder([]float64{0, 0.13, 0.55, 0.3}, []float64{0, 180, 540, 360}); got.Verdict != CannotTell {
		t.Errorf("pulses at no order's places: %+v", got)
	}
	if got := PulseOrder([]float64{0, 0.5}, []float64{0, 360}); fmt.Sprint(got.Unseen) != "[[1 2]]" {
		t.Errorf("unseen: %v", got.Unseen)
	}
}
