package job

import (
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/garage"
)

// A check is asked again until the answer means something; q leaves the rest open.
func TestAskChecks(t *testing.T) {
	t.Parallel()
	four := bank.Default(4)
	checks := garage.PreStartChecks(&four)
	var out strings.Builder
	ticks, err := AskChecks(t.Context(), checks, nil, strings.NewReader("?\nY\n-\n\nx\nhelp\nq\n"), &out)
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
}
