package bank

import (
	"errors"
	"strings"
	"testing"
)

func TestDefaultsAreSound(t *testing.T) {
	for n := MinCylinders; n <= MaxCylinders; n++ {
		b := Default(n)
		if err := b.Check(); err != nil {
			t.Errorf("default bank of %d: %v", n, err)
		}
	}
}

// Firing intervals in degrees of crank: an encyclopaedia's table of engine
// configurations, and a motorcycle service manual for the four (1-2-4-3, even).
// Each engine's intervals must sum to 720.
func TestFiringAngle(t *testing.T) {
	four := Default(4)
	for cylinder, want := range map[int]float64{1: 0, 2: 180, 4: 360, 3: 540} {
		if got := four.FiringAngle(cylinder); got != want {
			t.Errorf("cylinder %d fires at %v, want %v", cylinder, got, want)
		}
	}
	twin := Default(2)
	twin.FiringAngles = []float64{0, 270}
	if got := twin.FiringAngle(2); got != 270 {
		t.Errorf("270-450 twin: cylinder 2 fires at %v", got)
	}
}

func TestCheckNamesTheField(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(b *Bank)
		want  string
	}{
		{"one cylinder", func(b *Bank) { b.Cylinders = 1 }, "cylinders"},
		{"too few channels", func(b *Bank) { b.Channels = b.Channels[:3] }, "channels"},
		{"channel twice", func(b *Bank) { b.Channels[3] = 0 }, "channels"},
		{"channel 9", func(b *Bank) { b.Channels[3] = 9 }, "channels"},
		{"order names a fifth", func(b *Bank) { b.FiringOrder[2] = 5 }, "firing_order"},
		{"order names one twice", func(b *Bank) { b.FiringOrder[2] = 1 }, "firing_order"},
		{"angles fall", func(b *Bank) { b.FiringAngles = []float64{0, 90, 80, 300} }, "firing_angles"},
		{"angle beyond the cycle", func(b *Bank) { b.FiringAngles = []float64{0, 90, 180, 720} }, "firing_angles"},
		{"root unknown", func(b *Bank) { b.Root = 0 }, "root"},
		{"screw moves nothing", func(b *Bank) { b.Screws[1].Moves = nil }, `screws[1] "3-4"`},
		{"screw moves a fifth", func(b *Bank) { b.Screws[1].Moves = []int{5} }, `screws[1] "3-4"`},
		{"screw moves all", func(b *Bank) { b.Screws[1].Moves = []int{1, 2, 3, 4} }, `screws[1] "3-4"`},
		{"screw without a name", func(b *Bank) { b.Screws[0].Name = "" }, `screws[0] ""`},
		{"screw name twice", func(b *Bank) { b.Screws[1].Name = "1-2" }, `screws[1] "1-2"`},
		{"effect absurd", func(b *Bank) { b.Screws[1].EffectKPaPerTurn = 1e6 }, `screws[1] "3-4"`},
		{"a screw too few", func(b *Bank) { b.Screws = b.Screws[:2] }, "screws"},
		{"singular", func(b *Bank) { b.Screws[1].Moves = []int{1} }, "screws"},
		{"singular through the stop", func(b *Bank) { b.Screws[1].Moves = []int{3, 4} }, "screws"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := Default(4)
			c.spoil(&b)
			err := b.Check()
			var field *FieldError
			if !errors.As(err, &field) {
				t.Errorf("got %v, want a field error", err)
			} else if field.Field != c.want || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want field %s", err, c.want)
			}
		})
	}
}

// Angles that are too few are answered with how many there are to be: one alone is that of the second of a twin.
func TestTooFewAnglesAreAnswered(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		cylinders int
		angles    []float64
		want      string
	}{{2, []float64{180}, "two angles for two cylinders, in the order of firing, as 0,180"},
		{2, []float64{0}, "as 0,360"}, {3, []float64{0, 240}, "three angles for three cylinders"},
		{4, []float64{180}, "as 0,180,360,540"}} {
		b := Default(row.cylinders)
		b.FiringAngles = row.angles
		if err := b.Check(); err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%v of %d: %v, want %q", row.angles, row.cylinders, err, row.want)
		}
	}
}
