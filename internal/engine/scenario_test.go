package engine

import (
	"math"
	"strings"
	"testing"

	"evendraw/internal/effort"
	"evendraw/internal/frame"
)

// Every bike of the garage makes sense, has a story, starts from rest, keeps running and
// is unlike the others.
func TestScenarios(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range Scenarios() {
		if seen[s.Name] || seen[s.Story] || s.Name == "" || strings.ContainsAny(s.Name, " _ABC") ||
			!strings.HasSuffix(s.Story, ".") {
			t.Errorf("%q: %q", s.Name, s.Story)
		}
		seen[s.Name], seen[s.Story] = true, true
		t.Run(s.Name, func(t *testing.T) {
			t.Parallel()
			for seed := range uint64(effort.Of(1, 2)) {
				s.hold(t, seed)
			}
		})
	}
	if len(Scenarios()) < 12 {
		t.Errorf("%d scenarios", len(Scenarios()))
	}
	if _, ok := ScenarioNamed("no such bike"); ok {
		t.Error("found what there is not")
	}
}

// hold starts the bike and holds its idle, and what its card says, to what makes sense.
func (s *Scenario) hold(t *testing.T, seed uint64) {
	c := s.Config(seed)
	if err := c.Bank.Check(); err != nil {
		t.Fatal(err)
	}
	e := New(c)
	e.Start()
	runFor(t, e, effort.Of(5., 8.))
	a, n := observe(t, e, effort.Of(2., 4.)), c.Bank.Cylinders
	truth := e.Truth()
	if !truth.Running || a.rpm < 780 || a.rpm > 1300 {
		t.Errorf("seed %d: running %v at %.0f rpm", seed, truth.Running, a.rpm)
	}
	if spread := a.spread(n); spread < 1 || spread > 11 {
		t.Errorf("seed %d: spread %.2f kPa", seed, spread)
	}
	wrong := 0
	for i, card := range c.Bank.Screws {
		if math.Abs(card.EffectKPaPerTurn-float64(truth.ScrewEffect[i])) > 0.051 {
			wrong++
		}
	}
	if reversed := s.Name == "reversed-screw"; reversed != (wrong == 1) || wrong > 1 {
		t.Errorf("seed %d: card wrong about %d screws", seed, wrong)
	}
}

// A scenario is one bike by seed; other seeds are other bikes.
func TestScenarioBySeed(t *testing.T) {
	s, ok := ScenarioNamed("leaking-boot")
	if !ok {
		t.Fatal("not found")
	}
	first := func(seed uint64) (f frame.Frame) {
		r := frame.NewReader(New(s.Config(seed)))
		for range 100 {
			f, _ = r.Read()
		}
		return f
	}
	one := first(1)
	if again := first(1); one != again || one.Counts == first(2).Counts {
		t.Error("bikes do not follow the seed")
	}
	// The table of scenarios is not shared with who changes his copy.
	all := Scenarios()
	all[0].Name = "mine"
	c := s.Config(1)
	c.Defects[0].LeakMM2 = 99
	if Scenarios()[0].Name == "mine" || s.Config(1).Defects[0].LeakMM2 == 99 {
		t.Error("the garage can be changed from outside")
	}
}
