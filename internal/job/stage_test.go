package job

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"

	"evendraw/internal/garage"
	"evendraw/internal/practice"
)

// What the listener answers goes where a run's words went as it began: the run gives its own streams back while the
// listener still waits for a line.
func TestTheListenerHasItsOwnStreams(t *testing.T) {
	t.Parallel()
	var began strings.Builder
	r := &stageRun{live: &live{opt: &LiveOptions{}, std: Streams{Err: io.Discard}}}
	lines := []string{"what now", "q"}
	stopped := error(nil)
	r.listen(func() (string, error) {
		if len(lines) == 0 {
			return "", io.EOF
		}
		line := lines[0]
		lines = lines[1:]
		r.std = Streams{} // given back: to print there would panic
		return line, nil
	}, &began, func(why error) { stopped = why })
	if !strings.Contains(began.String(), "made 3/4") || !errors.Is(stopped, errStageDone) {
		t.Errorf("%q, %v", began.String(), stopped)
	}
}

// A practice by a card whose idle the practice engine can't reach is wrong use, told before anything runs.
func TestAnIdleOutOfReachIsRefused(t *testing.T) {
	t.Parallel()
	g, err := garage.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	bike := garage.DefaultBike("twin", 2)
	bike.IdleRPMLow, bike.IdleRPMHigh = 4000, 4200
	set := &Settings{Garage: g, Bike: &bike, Named: true, World: &World{}}
	err = Live(context.Background(), set, &LiveOptions{Practice: practice.Fresh, Headless: true},
		Streams{Out: io.Discard, Err: io.Discard})
	var usage *UsageError
	if !errors.As(err, &usage) || !strings.Contains(err.Error(), "4000 to 4200 rpm") {
		t.Errorf("%v", err)
	}
}
