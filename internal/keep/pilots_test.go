package keep

import (
	"testing"
	"time"

	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/mixture"
	"evendraw/internal/practice"
	"evendraw/internal/raised"
	"evendraw/internal/settings"
)

// An unfinished record follows the screws also where they are turned back to where they stood.
func TestAPilotScrewTurnedBackIsKept(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	snap := keptSnapshot(0)
	for _, moved := range []float64{0.5, 0} {
		snap.Tune.Pilots = []mixture.Pilot{{Cylinder: 1, Found: mixture.Trimming, Moved: moved}, {Cylinder: 2}}
		if err := k.Update(snap); err != nil {
			t.Fatal(err)
		}
		left, _ := g.ListUnfinished()
		if len(left) != 1 || len(left[0].Kept.Pilots) != 1 || left[0].Kept.Pilots[0].MovedTurns != moved {
			t.Fatalf("moved %v: kept %+v", moved, left)
		}
	}
}

// A run that is killed in the middle of the pilot screws leaves what is done and where the others stand, and the next
// goes on with them.
func TestPilotScrewsOfAKilledRun(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	keep := func() *Keeper {
		return New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	}
	snap := keptSnapshot(0)
	snap.Tune.Pilots = []mixture.Pilot{{Cylinder: 1, Found: mixture.AtPeak, Moved: 0.25, Best: 0.24, Uncertainty: 0.06},
		{Cylinder: 2, Found: mixture.Trimming, Moved: -0.5, Open: 0.25}}
	if err := keep().Update(snap); err != nil { // and is gone without a word
		t.Fatal(err)
	}
	second := keep()
	_, p := second.Resume(time.Now())
	if len(p) != 2 || p[0].Found != mixture.AtPeak || p[0].Moved != 0.25 || p[0].Uncertainty != 0.06 ||
		p[1].Found.Final() || p[1].Moved != -0.5 || p[1].Open != 0.25 {
		t.Errorf("goes on with %+v", p)
	}
}

// A practice that is left keeps what was trimmed, as a real bike's run does, once; a turn that found nothing is none.
func TestAPracticesTrimIsKept(t *testing.T) {
	t.Parallel()
	g := invented.Garage(t, t.TempDir())
	k := New(&settings.Settings{Garage: g, World: &settings.World{}},
		Options{Own: Practice, Practice: practice.New(practice.Options{Name: practice.Fresh})})
	snap := keptSnapshot(1)
	if _, err := k.Save(snap); err != nil { // of the levelling
		t.Fatal(err)
	}
	trial := *snap
	trial.Tune.Pilots = []mixture.Pilot{{Cylinder: 1, Found: mixture.Trimming, Moved: 0.5}, {Cylinder: 2}}
	if path, err := k.End(&trial); path != "" || err != nil {
		t.Errorf("a trial turn: %q, %v", path, err)
	}
	set := *snap
	set.Reading = nil // the engine stands
	set.Tune.Pilots = []mixture.Pilot{{Cylinder: 1, Found: mixture.AtPeak, Moved: 0.25}, {Cylinder: 2}}
	path, err := k.End(&set)
	if err != nil {
		t.Fatal(err)
	}
	if rec, err := garage.LoadSync(path); err != nil || len(rec.Pilots) != 1 || rec.Pilots[0].MovedTurns != 0.25 {
		t.Errorf("kept %+v, %v", rec, err)
	}
	if path, err := k.End(&set); path != "" || err != nil || k.Unsaid() != "" {
		t.Errorf("kept again: %q, %v, unsaid %q", path, err, k.Unsaid())
	}
}

// A practice that is left after a look at the raised speed keeps it, as a real bike's run does.
func TestAPracticesLookIsKept(t *testing.T) {
	t.Parallel()
	g, _ := invented.Twin(t)
	p := practice.New(practice.Options{Name: practice.Fresh})
	k := New(&settings.Settings{Garage: g}, Options{Own: Practice, Practice: p})
	if _, err := k.Save(keptSnapshot(1)); err != nil {
		t.Fatal(err)
	}
	s := keptSnapshot(1)
	if path, err := k.End(s); path != "" || err != nil {
		t.Errorf("nothing new, and kept as %q, %v", path, err)
	}
	s.Tune.Raised = &raised.State{Done: true, Raised: raised.Level{RPM: 3000}}
	path, err := k.End(s)
	if err != nil || path == "" {
		t.Fatalf("kept as %q, %v", path, err)
	}
	if rec, err := garage.LoadSync(path); err != nil || rec.Raised == nil {
		t.Errorf("%+v, %v", rec.Raised, err)
	}
}
