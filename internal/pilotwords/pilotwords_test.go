package pilotwords

import (
	"strings"
	"testing"

	"evendraw/internal/mixture"
)

// How long screws take is told as a range, which learns from those that are done: of a slow hand both ends are later.
func TestWhatScrewsTakeIsARange(t *testing.T) {
	slow := mixture.NewPilot(1, 2)
	slow.Found, slow.Seconds = mixture.AtPeak, 110
	for _, row := range []struct {
		screws int
		job    []mixture.Pilot
		want   string
	}{
		{4, nil, "4 screws to do: 2:45 to 7:00 of idling, nine times of ten."},
		{1, nil, "1 screw to do: 0:35 to 2:00 of idling, nine times of ten."},
		{3, []mixture.Pilot{slow}, "3 screws to do: 2:55 to 6:10 of idling, nine times of ten."},
	} {
		if got := Takes(row.screws, row.job); got != row.want {
			t.Errorf("%q, want %q", got, row.want)
		}
	}
}

// Who is told that a screw was turned by mistake, and which is not known, is told how to find it.
func TestAScrewTurnedByMistakeCanBeFound(t *testing.T) {
	s := mixture.TrimState{Cylinders: 2, Step: mixture.StepAllSet}
	for i := range s.Cylinders {
		s.Pilots[i] = mixture.NewPilot(i+1, 2)
		s.Pilots[i].Found = mixture.AtPeak
	}
	if lines := Warnings(&s); len(lines) != 0 {
		t.Errorf("of sound screws %q", lines)
	}
	s.Pilots[1].Found, s.Pilots[1].SetRPM, s.Pilots[1].ForetoldRPM = mixture.Unsure, 1000, 1050
	if lines := Warnings(&s); !strings.Contains(strings.Join(lines, " "), "count each screw in") {
		t.Errorf("of a slip %q", lines)
	}
}
