package view

import (
	"slices"
	"strings"
	"testing"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/heat"
	"evendraw/internal/session"
)

// idles lets the engine idle for some seconds with an advice, ten ticks each.
func idles(v View, seconds int, kind advice.Kind, why advice.Why) View {
	for range 10 * seconds {
		v = after(v, 0.1, reading(kind, why))
	}
	return v
}

// What a record says of the engine's warmth is what was said or seen of it: a steady idle alone is taken for warm, and
// said to be no more than that.
func TestWarmthIsSaidOrAssumed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		do   func(v View) View
		want string
	}{
		{"the idle holds", func(v View) View { return idles(v, 22, advice.Wait, advice.WhyFewCycles) },
			garage.WarmthAssumed},
		{"said at once", func(v View) View { return press(idles(v, 2, advice.Wait, advice.WhyCold), KeyEnter) },
			garage.WarmthSaid},
		{"said when it is asked", func(v View) View {
			return press(idles(v, 17, advice.Wait, advice.WhyFewCycles), KeyEnter)
		}, garage.WarmthSaid},
		{"passed over", func(v View) View {
			v = press(idles(v, 2, advice.Wait, advice.WhyFewCycles), "n")
			return idles(v, 30, advice.Wait, advice.WhyFewCycles)
		}, garage.WarmthPassed},
		{"begun behind it", func(v View) View {
			return idles(v.StartAt(StepLevel), 3, advice.Wait, advice.WhyFewCycles)
		}, ""},
	} {
		v := c.do(running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepWarm))
		if c.want != "" && c.name != "begun behind it" && v.Flow.At == StepWarm {
			t.Errorf("%s: still at %s", c.name, v.Flow.At.ID())
		}
		v = press(v.StartAt(StepLevel), "s")
		i := slices.IndexFunc(v.Wants, func(w Want) bool { return w.Kind == Save })
		if i < 0 || v.Wants[i].Text != c.want {
			t.Errorf("%s: %+v, want %q", c.name, v.Wants, c.want)
		}
	}
}

// A speed that has held is no proof of warmth: that is asked, for long enough to be read.
func TestASteadyIdleIsAskedFor(t *testing.T) {
	t.Parallel()
	v := idles(running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepWarm), warmSeconds+3, advice.Wait,
		advice.WhyFewCycles)
	p := v.Picture()
	if all := said(&v); p.Big != "WARM?" || !strings.Contains(all, "probably warm") {
		t.Errorf("%s: %s", p.Big, all)
	}
}

// Whoever says that it is not warm yet is not moved on by any clock, until Enter.
func TestNotWarmYetWaitsForEnter(t *testing.T) {
	t.Parallel()
	wait := func(v View, seconds int) View { return idles(v, seconds, advice.Wait, advice.WhyFewCycles) }
	v := wait(running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepWarm), warmSeconds+3)
	if keys := v.Picture().Keys; !slices.Contains(keys, "p not warm yet") {
		t.Errorf("keys %q", keys)
	}
	v = wait(press(v, "p"), 60)
	if p := v.Picture(); v.Flow.At != StepWarm || p.Big != "WARM UP" || !strings.Contains(said(&v), "Press Enter") ||
		!slices.Contains(p.Keys, "p back") {
		t.Fatalf("at %s: %s: %s", v.Flow.At.ID(), p.Big, said(&v))
	}
	if back := press(v, "p"); back.Flow.At != StepMatch {
		t.Errorf("p again leads to %s", back.Flow.At.ID())
	}
	v = press(press(v, KeyEnter), "s")
	i := slices.IndexFunc(v.Wants, func(w Want) bool { return w.Kind == Save })
	if v.Flow.At != StepHoses || i < 0 || v.Wants[i].Text != garage.WarmthSaid {
		t.Errorf("at %s, wants %+v", v.Flow.At.ID(), v.Wants)
	}
}

// A passing message goes with what it is of: a key, a record that is saved, a zero pass that runs.
func TestAMessageGoesWithWhatItIsOf(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Wait, advice.WhyFewCycles)).StartAt(StepKeep)
	foot := func(v View) string {
		text := ""
		for _, f := range v.Picture().Foot {
			text += f.Text
		}
		return text
	}
	told := Update(v, Told{"The remark goes into the next record.", Plain})
	if foot(told) == "" {
		t.Fatal("not told")
	}
	zeroing := *told.Snap
	zeroing.Zero = session.ZeroState{Running: true}
	for name, v := range map[string]View{"a record": Update(told, SavedRecord{What: "x"}), "a key": press(told, "k"),
		"a zero pass": Update(told, Tick{now.Add(time.Second / 10), fresh(&zeroing, now.Add(time.Second/10))})} {
		if got := foot(v); got != "" {
			t.Errorf("after %s: %q", name, got)
		}
	}
}

// In the last minute the spread stands beside the countdown.
func TestTheCountdownHidesNoSpread(t *testing.T) {
	t.Parallel()
	v := running(reading(advice.Turn, advice.WhyUnlevel)).StartAt(StepLevel)
	v.Snap.Heat, v.Snap.HeatAt = heat.State{Seconds: 270, Turning: true}, now
	if f := v.Picture().Foot; len(f) != 1 || !strings.Contains(f[0].Text, "Engine off within 0:30") ||
		!strings.Contains(f[0].Text, "Spread 1.5, aim 0.5, limit 2.7 kPa") || len(f[0].Text) > 79 {
		t.Errorf("%+v", f)
	}
}
