package keep

import (
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/cycle"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/settings"
)

// A record holds no reading from before its last turn as that of after it: the idle that was read before counts no
// more once a turn was made, though the speed moved; where nothing was read since, there is none.
func TestNoReadingFromBeforeATurn(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	idle, moving, lost := keptSnapshot(0), keptSnapshot(1), keptSnapshot(2)
	idle.Reading.Advice.Kind, idle.Reading.Spread = advice.Done, 0.1
	moving.Reading.Steady, moving.Reading.Spread = false, 0.8
	lost.Reading.Cylinders[0].State = cycle.Ambient
	for _, c := range []struct {
		snap    *session.Snapshot
		spread  pressure.KPa // 0 for no reading
		verdict string
	}{{idle, 0.1, garage.VerdictDone}, {moving, 0.8, garage.VerdictSaved}, {lost, 0, garage.VerdictSaved}} {
		if err := k.Update(c.snap); err != nil {
			t.Fatal(err)
		}
		rec := k.record(k.bestRead(c.snap))
		if rec.Verdict != c.verdict || (rec.After == nil) != (c.spread == 0) ||
			rec.After != nil && pressure.KPa(rec.After.SpreadKPa) != c.spread {
			t.Errorf("after %d turns: %s, %+v", len(c.snap.Journal.Steps), rec.Verdict, rec.After)
		}
	}
}

// The spread after a turn is what led to the next, after the last that of the bank as it was left: unknown where
// nothing was read since.
func TestTheSpreadAfterATurn(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	for _, left := range []bool{true, false} {
		snap := keptSnapshot(3)
		for i, spread := range []pressure.KPa{6, 3, 1} {
			snap.Journal.Steps[i].Spread = spread
		}
		if !left { // a speed that is raised is no idle
			snap.Reading.RPM = 4000
		}
		for i, s := range k.record(snap).Steps {
			want, got := []float64{3, 1, 0.4}[i], float64(s.SpreadAfterKPa)
			if known := left || i < 2; known && got != want || !known && !math.IsNaN(got) {
				t.Errorf("left idling %v: turn %d: %v", left, i, got)
			}
		}
	}
}

// What no record holds is named for what it is: the user's own remark, or what was found at the practice engine.
func TestWhatNoRecordHoldsIsNamed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ note, noted, found, want string }{
		{"new boots", "", "A boot was torn.", "your remark: new boots"}, {"", "old", "", ""}, {"same", "same", "", ""},
		{"", "", "A boot was torn.", "what was found: A boot was torn."}} {
		p := practice.New(practice.Options{Name: practice.Fresh})
		p.Finds(c.found)
		k := &Keeper{opt: Options{Own: Practice, Practice: p}, note: c.note, noted: c.noted, card: "practice"}
		if got := k.Unsaid(); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// A remark and what was found are two sentences.
func TestRemarkAndFindings(t *testing.T) {
	t.Parallel()
	for _, c := range [][3]string{{"", "", ""}, {"new boot", "", "new boot"}, {"", "It was torn.", "It was torn."},
		{"new boot", "It was torn.", "new boot. It was torn."},
		{"New boot.", "It was torn.", "New boot. It was torn."}} {
		if got := remarkOf(c[0], c[1]); got != c[2] {
			t.Errorf("%q and %q: %q", c[0], c[1], got)
		}
	}
}

// Level is told before the speed has come down from the blip: the record is of the idle before, and done.
func TestLevelBeforeTheSpeedIsDownIsDone(t *testing.T) {
	t.Parallel()
	g, card := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &card}, Options{Own: Bike})
	for turns, want := range map[int]string{1: garage.VerdictDone, 2: garage.VerdictSaved} { // turned since, it isn't
		k.usable = keptSnapshot(1)
		falls := keptSnapshot(turns)
		falls.Reading.RPM, falls.Reading.Steady = 1300, false
		falls.Reading.Advice = advice.New(advice.Done, advice.NoPart, advice.WhyLevel)
		falls.Reading.Cycles = 0
		if rec := k.record(k.bestRead(falls)); rec.Verdict != want {
			t.Errorf("%d turns: %q, want %q", turns, rec.Verdict, want)
		}
	}
}

// A record tells of the card's altitude, and by what the bank was levelled.
func TestARecordTellsOfAltitudeAndAim(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	altitude := 412.5
	bike.AltitudeM = &altitude
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	snap := keptSnapshot(1)
	snap.Config.LevelBy = balance.ByOpening
	path, err := k.Save(snap)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := garage.LoadSync(path)
	if err != nil || rec.AltitudeM == nil || *rec.AltitudeM != altitude || rec.LevelBy != garage.LevelByOpening {
		t.Errorf("altitude %v, by %q, %v", rec.AltitudeM, rec.LevelBy, err)
	}
}
