package mixture

import "testing"

// Nothing is said of settings that are far apart before a screw is done, nor while one is in a trial position.
func TestTooFarApart(t *testing.T) {
	s := TrimState{Cylinders: 2, Apart: MostApart + 0.25}
	s.Pilots[0], s.Pilots[1] = NewPilot(1, 1), NewPilot(2, 1+s.Apart)
	if s.TooFarApart() {
		t.Error("said before a screw is done")
	}
	if s.Pilots[0].Found = AtPeak; !s.TooFarApart() {
		t.Error("not said of what is found")
	}
	if s.Pilots[1].Found, s.Pilots[1].Moved = Trimming, 0.5; s.TooFarApart() {
		t.Error("said while a screw is in a trial position")
	}
}
