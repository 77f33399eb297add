package tell

import (
	"strings"
	"testing"

	"evendraw/internal/airleak"
)

// What a watch for an air leak has heard once is told as perhaps.
func TestAirFound(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		state airleak.State
		want  string
	}{{airleak.State{}, "no proof that none leaks"},
		{airleak.State{Last: 2}, "cylinder 2 got less air, perhaps it leaks"},
		{airleak.State{Phase: airleak.Less, Cylinder: 3, Last: 2}, "cylinder 3 got less air, perhaps"},
		{airleak.State{Last: 2, Again: true}, "cylinder 2 got less air, twice: it leaks"}} {
		if said := AirFound(&c.state); !strings.Contains(said, c.want) {
			t.Errorf("%+v: %q", c.state, said)
		}
	}
}
