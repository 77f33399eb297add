package job

import (
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
)

// A new zero is asked for when sensors were seen to have moved, once for each time, and when the
// engine has warmed them; a new
// zero pass begins anew.
func TestWarmthNote(t *testing.T) {
	t.Parallel()
	var told warmth
	snap := func(zeroed bool, zero *sensor.Zero, idling float64, d sensor.Drift) *session.Snapshot {
		return &session.Snapshot{Config: session.Config{Zeroed: zeroed}, Zero: session.ZeroState{Result: zero},
			Journal: session.Journal{Idling: idling}, Drift: d,
			Bank: bank.Bank{Channels: []int{3, 2, 1, 0}}}
	}
	moved := sensor.Drift{Seen: true, Time: 100, Channel: 2, Asks: true}
	moved.Own[2] = -0.5
	later, all := moved, sensor.Drift{Seen: true, Time: 300, Common: 1.5, Asks: true}
	later.Time = 200
	fresh := &sensor.Zero{}
	for i, step := range []struct {
		snap  *session.Snapshot
		words string
	}{
		{snap(false, nil, 1e4, moved), ""}, {snap(true, nil, 0, sensor.Drift{}), ""}, {snap(true, nil, 60, moved),
			"cylinder 2 has drifted by −0.5 kPa"},
		{snap(true, nil, 61, moved), ""}, {snap(true, nil, 62, later), "cylinder 2"}, {snap(true, nil, 700, later),
			"12 minutes"}, {snap(true, nil, 900, later), ""},
		{snap(true, fresh, 900, sensor.Drift{}), ""}, {snap(true, fresh, 1400, sensor.Drift{}),
			""}, {snap(true, fresh, 1400, all), "All sensors"}, {snap(true, fresh, 1600, all), "12 minutes"},
	} {
		if got := told.note(step.snap, 10); !strings.Contains(got, step.words) || (step.words == "") != (got == "") {
			t.Errorf("step %d: %q, want %q", i, got, step.words)
		}
	}
}
