package desk

import (
	"context"
	"errors"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/invented"
	"evendraw/internal/screen"
	"evendraw/internal/settings"
	"evendraw/internal/view"
)

// A check is asked again until the answer means something; q leaves the rest open.
func TestAskChecks(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	checks := garage.PreStartChecks(&four)
	var out strings.Builder
	ticks, err := AskChecks(t.Context(), checks, nil, strings.NewReader("?\n\n-\nn\n!\nhelp\nq\n"), &out)
	if err != nil || len(ticks) != 3 {
		t.Fatalf("%+v, %v", ticks, err)
	}
	for i, want := range []string{garage.TickDone, garage.TickNotNeeded, "", garage.TickLeft, ""} {
		if got, _ := garage.TickOf(ticks, checks[i].ID); got.Answer != want {
			t.Errorf("check %d: %q, want %q", i, got.Answer, want)
		}
	}
	if n := strings.Count(out.String(), "q stop:"); n != 7 {
		t.Errorf("%d prompts for 7 answers", n)
	}
	for _, wrong := range []string{`"?"`, `"help"`} {
		if !strings.Contains(out.String(), wrong+" is none of the answers") {
			t.Errorf("%s is not said to be no answer:\n%s", wrong, &out)
		}
	}
}

// The answers are the keys of the live screen: what that says of them holds here too, and = once more answers all that
// are left.
func TestAskChecksHasTheScreensKeys(t *testing.T) {
	t.Parallel()
	two := bank.Default(2)
	checks := garage.PreStartChecks(&two)
	v := view.View{Checks: checks}
	v.Flow.At = view.StepChecks
	keys := strings.Join(v.Picture().Keys, "\n")
	var out strings.Builder
	ticks, err := AskChecks(t.Context(), checks, nil, strings.NewReader("!\n=\n=\n"), &out)
	for _, key := range []string{"Enter seen", "- not on this bike", "! leave undone", "= all seen"} {
		if !strings.Contains(out.String(), key) || !strings.Contains(keys, key) {
			t.Errorf("%q is not said both in\n%s\nand on the screen:\n%s", key, &out, keys)
		}
	}
	once, err1 := AskChecks(t.Context(), checks, nil, strings.NewReader("=\n-\nq\n"), &out)
	if err1 != nil || len(once) != 1 || once[0].Answer != garage.TickNotNeeded {
		t.Errorf("= once: %+v, %v", once, err1)
	}
	if err != nil || len(ticks) != len(checks) || ticks[0].Answer != garage.TickLeft ||
		ticks[1].Answer != garage.TickDone || ticks[len(ticks)-1].Answer != garage.TickDone {
		t.Errorf("%+v, %v", ticks, err)
	}
}

// formDisplay is a terminal at which keys are pressed, and which then goes.
type formDisplay struct {
	settings.Display
	keys chan string
	gone chan struct{}
}

func (d *formDisplay) Show(func(*screen.Canvas)) {
	if len(d.keys) == 0 {
		close(d.gone)
	}
}
func (d *formDisplay) Close() error             { return nil }
func (d *formDisplay) Keys() <-chan string      { return d.keys }
func (d *formDisplay) Gone() <-chan struct{}    { return d.gone }
func (d *formDisplay) Resized() <-chan struct{} { return nil }

// A form whose terminal goes is saved with all that was typed; Ctrl-C asks before it throws that away.
func TestAFormThatIsCutShort(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		keys  []string
		save  bool
		cause error
	}{{keys: nil}, {keys: []string{view.KeyEnter}}, // the last card's value, offered alone: nobody took it
		{keys: []string{view.KeyEnter, view.KeyEnter}, save: true}, {keys: []string{"2"}, save: true},
		{keys: []string{"2", view.KeyEnter}, save: true},
		{keys: []string{"2", view.KeyEnter, view.KeyCtrlC}, save: true},
		{keys: []string{"2", view.KeyEnter, view.KeyCtrlC, view.KeyCtrlC}, cause: context.Canceled},
		{keys: []string{view.KeyCtrlC}, cause: context.Canceled}} {
		g := invented.Garage(t, t.TempDir())
		bike := garage.DefaultBike("twin", 2)
		last := garage.NewBenchCard(&bike.Bank, garage.BenchApart)
		if err := last.SetAll(garage.FieldPilotTurns, "2"); err != nil {
			t.Fatal(err)
		}
		if _, err := g.SaveBench(bike.Name, &last); err != nil {
			t.Fatal(err)
		}
		d := &formDisplay{keys: make(chan string, 9), gone: make(chan struct{})}
		for _, k := range c.keys {
			d.keys <- k
		}
		set := &settings.Settings{Garage: g, Bike: &bike, World: &settings.World{
			Display: func(screen.Options) (settings.Display, error) { return d, nil }}}
		card, save, err := FillBench(t.Context(), set, screen.Options{}, garage.NewBenchCard(&bike.Bank,
			garage.BenchApart))
		if save != c.save || err == nil || c.cause != nil && !errors.Is(err, c.cause) {
			t.Errorf("keys %q: save %v, %v", c.keys, save, err)
		}
		if save && card.Carburettors[0].Text(garage.FieldPilotTurns) != "2" {
			t.Errorf("keys %q: %+v", c.keys, card)
		}
	}
}
