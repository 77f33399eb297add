package keep

import (
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/mixture"
	"evendraw/internal/practice"
	"evendraw/internal/pressure"
	"evendraw/internal/raised"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// keptSnapshot is a level twin after so many turns.
func keptSnapshot(turns int) *session.Snapshot {
	s := invented.IdlingTwin()
	for range turns {
		s.Journal.Steps = append(s.Journal.Steps,
			session.Step{Advice: advice.Advice{Kind: advice.Turn, Part: advice.SyncScrew, ScrewName: "1-2",
				Direction: advice.Clockwise, Turns: 0.25}})
	}
	return s
}

// A run that is killed leaves its turns behind, the next run of the bike goes on with
// them, and what is left by hand is kept.
func TestAKilledRunIsGoneOnWith(t *testing.T) {
	t.Parallel()
	g, card := invented.Twin(t)
	keep := func() *Keeper {
		return New(&settings.Settings{Garage: g, Bike: &card}, Options{Own: Bike})
	}
	first := keep()
	if err := first.Update(keptSnapshot(0)); err != nil || first.unfinished != nil {
		t.Errorf("a run without turns: %v, %+v", err, first.unfinished)
	}
	if err := first.Update(keptSnapshot(2)); err != nil {
		t.Fatal(err)
	}
	if left, _ := g.ListUnfinished(); len(left) != 1 || len(left[0].Kept.Steps) != 2 {
		t.Fatalf("left behind: %+v", left)
	}
	second := keep() // the first is gone without a word
	if note, _ := second.Resume(time.Now()); !strings.Contains(note, "goes on") {
		t.Fatalf("note %q", note)
	}
	path, err := second.Save(keptSnapshot(1))
	if err != nil {
		t.Fatal(err)
	}
	all, _ := g.ListSyncs("twin")
	if len(all) != 1 || len(all[0].Kept.Steps) != 3 || path == "" {
		t.Fatalf("records %+v", all)
	}
	if left, _ := g.ListUnfinished(); len(left) != 0 {
		t.Errorf("still left behind: %+v", left)
	}
	if err := second.Update(keptSnapshot(1)); err != nil || second.unfinished != nil {
		t.Errorf("what is in a record is written again: %v", err)
	}
	if err := second.Update(keptSnapshot(2)); err != nil {
		t.Fatal(err)
	}
	if path, err := second.End(nil); err != nil || path == "" {
		t.Errorf("a run that is left: %q, %v", path, err)
	}
	all, _ = g.ListSyncs("twin")
	if len(all) != 2 || all[1].Kept.Verdict != garage.VerdictUnfinished {
		t.Errorf("records %+v", all)
	}
	other := garage.DefaultBike("other", 2)
	k := New(&settings.Settings{Garage: g, Bike: &other}, Options{Own: Bike})
	if note, _ := k.Resume(time.Now()); note != "" {
		t.Errorf("another bike goes on with it: %q", note)
	}
	if path, err := (New(&settings.Settings{Garage: g}, Options{Own: None})).Save(keptSnapshot(1)); err == nil ||
		path != "" {
		t.Errorf("a replay is saved: %q", path)
	}
}

// Who stops the engine and then saves keeps the bank as it was read last.
func TestAStandingEngineIsSaved(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	stands := keptSnapshot(2)
	stands.Reading = &balance.Reading{Time: 70}
	if path, err := k.Save(stands); err == nil || path != "" {
		t.Errorf("nothing was read: %q, %v", path, err)
	}
	if err := k.Update(keptSnapshot(2)); err != nil {
		t.Fatal(err)
	}
	if path, err := k.Save(stands); err != nil || path == "" {
		t.Fatalf("%q, %v", path, err)
	}
	if all, err := g.ListSyncs("twin"); err != nil || len(all) != 1 || all[0].Kept.After.RPM != 1100 {
		t.Errorf("records %+v, %v", all, err)
	}
}

// Who saves while the speed moves, or is raised, keeps the bank as it was read at idle; where it was never read so, as
// it is read.
func TestTheIdleIsSaved(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	moving, raised := keptSnapshot(2), keptSnapshot(2)
	moving.Reading.RPM, moving.Reading.Steady = 1381, false
	// A level bank stays level at a raised speed.
	raised.Reading.RPM, raised.Reading.OffIdle, raised.Reading.Advice.Kind = 3000, true, advice.Done
	moment := keptSnapshot(2) // just come down
	moment.Reading.RPM, moment.Reading.Cycles = 1022, 6
	for i, c := range []struct {
		name   string
		before []*session.Snapshot
		now    *session.Snapshot
		rpm    float64
	}{
		{"moving", []*session.Snapshot{moving, keptSnapshot(2), raised}, moving, 1100},
		{"raised", []*session.Snapshot{keptSnapshot(2), raised}, raised, 1100},
		{"at idle", []*session.Snapshot{moving}, keptSnapshot(2), 1100},
		{"at idle for a moment", []*session.Snapshot{keptSnapshot(2), raised}, moment, 1100},
		{"at idle for a moment only", []*session.Snapshot{moving}, moment, 1022},
		{"at idle for a moment, and turned since", []*session.Snapshot{keptSnapshot(1)}, moment, 1022},
		{"never at idle", []*session.Snapshot{moving}, moving, 1381},
	} {
		k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
		for _, s := range c.before {
			if err := k.Update(s); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := k.Save(c.now); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		all, _ := g.ListSyncs("twin")
		if len(all) != i+1 || float64(all[i].Kept.After.RPM) != c.rpm {
			t.Errorf("%s: of %d records the last: %+v", c.name, len(all), all[len(all)-1].Kept.After)
		}
	}
}

// A card may want an idle above most others': a bank that was levelled there is recorded with its reading. A bank that
// was never read at its idle has no reading in its record, and so isn't said to be level.
func TestAFastIdleIsSaved(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		high, rpm float64 // of the card, 0 for nothing; of the engine
		verdict   string
	}{{2100, 2000, garage.VerdictDone}, {5000, 4800, garage.VerdictDone}, {2100, 3000, garage.VerdictSaved},
		{0, 1100, garage.VerdictDone}, {0, 2000, garage.VerdictSaved}, {1100, 2000, garage.VerdictSaved}} {
		g, bike := invented.Twin(t)
		k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
		snap := keptSnapshot(2)
		snap.Reading.RPM, snap.Reading.Advice.Kind = c.rpm, advice.Done
		snap.Config.Idle = mixture.IdleConfig{LowRPM: 0.9 * c.high, HighRPM: c.high}
		if err := k.Update(snap); err != nil {
			t.Fatal(err)
		}
		path, err := k.Save(snap)
		if err != nil {
			t.Fatal(err)
		}
		rec, err := garage.LoadSync(path)
		if atIdle := c.verdict == garage.VerdictDone; err != nil || rec.Verdict != c.verdict ||
			(rec.After != nil) != atIdle || session.AtIdle(snap) != atIdle {
			t.Errorf("%v: %s, %+v, at idle %v, %v", c, rec.Verdict, rec.After, session.AtIdle(snap), err)
		}
	}
}

// What is saved after a level bank, say once its idle is set, is level too, while nothing was turned at the bank and
// the spread keeps to the aim.
func TestALevelBankStaysLevel(t *testing.T) {
	t.Parallel()
	g, bike := invented.Twin(t)
	k := New(&settings.Settings{Garage: g, Bike: &bike}, Options{Own: Bike})
	save := func(turns int, kind advice.Kind, spread pressure.KPa, want string) {
		t.Helper()
		snap := keptSnapshot(turns)
		snap.Reading.Advice.Kind, snap.Reading.Spread = kind, spread
		path, err := k.Save(snap)
		if err != nil {
			t.Fatal(err)
		}
		if rec, err := garage.LoadSync(path); err != nil || rec.Verdict != want {
			t.Errorf("%d turns, %s, %.1f kPa: %q, %v, want %q", turns, kind, spread, rec.Verdict, err, want)
		}
	}
	save(1, advice.Wait, 0.4, garage.VerdictSaved) // never said to be level
	save(2, advice.Done, 0.4, garage.VerdictDone)
	save(2, advice.Wait, 0.4, garage.VerdictDone)
	save(2, advice.Wait, 0.6, garage.VerdictSaved)
	save(2, advice.Done, 0.4, garage.VerdictDone)
	save(3, advice.Wait, 0.4, garage.VerdictSaved)
}

// What only the memory holds is kept when the run ends: a look at the raised speed, a remark that was typed.
func TestWhatNoRecordHoldsIsKept(t *testing.T) {
	t.Parallel()
	g, card := invented.Twin(t)
	raised := func() *session.Snapshot {
		s := keptSnapshot(0)
		s.Tune.Raised = &raised.State{Done: true, Raised: raised.Level{RPM: 3000}}
		return s
	}
	keep := func() *Keeper {
		return New(&settings.Settings{Garage: g, Bike: &card}, Options{Own: Bike})
	}
	for name, c := range map[string]struct {
		snap *session.Snapshot
		note string
		kept bool
	}{"nothing": {snap: keptSnapshot(0)}, "raised": {snap: raised(), kept: true},
		"remark": {snap: keptSnapshot(0), note: "new boots", kept: true}} {
		k := keep()
		k.Remark(c.note)
		c.snap.Effects, c.snap.Turned, c.snap.EffectFactors = []float64{-7.5}, []float64{0}, []float64{1.7}
		path, err := k.End(c.snap)
		if (path != "") != c.kept || err != nil {
			t.Errorf("%s: kept %q, %v", name, path, err)
		}
		if b, err := g.LoadBike("twin"); err != nil || c.kept && b.Bank.Screws[0].EffectKPaPerTurn != -7.5 {
			t.Errorf("%s: left, and not learned: %+v, %v", name, b.Bank.Screws, err)
		}
		k = keep()
		k.Remark(c.note)
		if _, err := k.Save(c.snap); err != nil {
			t.Fatal(err)
		}
		if path, err := k.End(c.snap); path != "" || err != nil {
			t.Errorf("%s: saved, and kept again as %q, %v", name, path, err)
		}
	}
	k := keep()
	k.RaisedTold()
	if path, err := k.End(raised()); path != "" || err != nil {
		t.Errorf("told in print, and kept as %q, %v", path, err)
	}
}

// The card of a practice engine tells what was in force, and what was learned of its screws.
func TestAPracticeCardTellsWhatWasInForce(t *testing.T) {
	t.Parallel()
	g := invented.Garage(t, t.TempDir())
	p := practice.New(practice.Options{Name: practice.Fresh})
	p.Engine.Turn(0, -0.72) // which it knows
	for p.Engine.Truth().Turning {
		io.CopyN(io.Discard, p.Engine, 1000)
	}
	k := New(&settings.Settings{Garage: g}, Options{Own: Practice, Practice: p})
	k.unit = "mmHg"
	snap := keptSnapshot(1)
	snap.Effects, snap.Turned, snap.EffectFactors = []float64{-7.5}, []float64{0.25}, []float64{1.7}
	snap.Config.Reference = 2
	if _, err := k.Save(snap); err != nil {
		t.Fatal(err)
	}
	snap.Config.Idle = mixture.IdleConfig{LowRPM: 1000, HighRPM: 1100} // told later
	if _, err := k.Save(snap); err != nil {
		t.Fatal(err)
	}
	heads, _ := g.ListSyncs(practice.CardName(k.begun, k.engine()))
	if lines := tell.TurnedLines(&heads[0].Kept); len(lines) != 1 ||
		lines[0] != "screw 1-2: about 3/4 of a turn anticlockwise in all" {
		t.Errorf("turned %q", lines)
	}
	if told := slices.IndexFunc(heads, func(s garage.StoredSync) bool {
		return s.Kept.IdleWanted != nil && *s.Kept.IdleWanted == garage.RecordRange{LowRPM: 1000, HighRPM: 1100}
	}); told < 0 {
		t.Error("no record holds the idle speed that was told")
	}
	b, err := g.LoadBike(practice.CardName(k.begun, k.engine()))
	if err != nil || b.Unit != "mmHg" || b.Reference != 2 || b.Bank.Screws[0].EffectKPaPerTurn != -7.5 ||
		b.IdleRPMLow != 1000 || b.IdleRPMHigh != 1100 {
		t.Errorf("card %+v, %v", b, err)
	}
}

// Two practices that begin in one second have a card each.
func TestPracticesShareNoCard(t *testing.T) {
	t.Parallel()
	g := invented.Garage(t, t.TempDir())
	begun := time.Now()
	for n := 1; n <= 2; n++ {
		k := New(&settings.Settings{Garage: g}, Options{Own: Practice})
		k.begun = begun
		for range 2 {
			if _, err := k.Save(keptSnapshot(1)); err != nil {
				t.Fatal(err)
			}
		}
		if bikes, _ := g.ListBikes(); len(bikes) != n || !practice.HasCard(bikes[n-1].Name) {
			t.Errorf("cards %+v", bikes)
		}
		if heads, _ := g.ListSyncs(k.card); len(heads) != 2 {
			t.Errorf("%s has %d records", k.card, len(heads))
		}
	}
}
