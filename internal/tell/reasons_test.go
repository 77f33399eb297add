package tell

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/capture"
	"evendraw/internal/cycle"
	"evendraw/internal/session"
)

// What can't be had is said with its reason: an opening, a difference of a channel that shows less or whose dips are
// cut off; and what is to be looked at.
func TestReasonsInWords(t *testing.T) {
	sum := session.NewSummary(nil)
	in := func(state cycle.State) map[cycle.State]float64 { return map[cycle.State]float64{state: 0.5} }
	for _, c := range []struct {
		summary session.CylinderSummary
		want    string
	}{
		{session.CylinderSummary{NoOpening: cycle.FewRefills}, "no opening, as it takes some ten seconds"},
		{session.CylinderSummary{NoOpening: cycle.ShallowDip}, "no opening, as its dip is too shallow"},
		{session.CylinderSummary{NoOpening: cycle.FewSamples}, "no opening, as too few samples"},
		{session.CylinderSummary{NoOpening: cycle.BehindJet}, "no opening, as its hose passes pressure on"},
		{session.CylinderSummary{NoOpening: cycle.OddRefill}, "no opening, as its pressure does not rise"},
		{session.CylinderSummary{States: in(cycle.CutOff)}, "differences are wrong, and not told"},
		{session.CylinderSummary{States: in(cycle.Pinched)}, "hose pinched?"},
		{session.CylinderSummary{States: in(cycle.ShowsLess)}, "Take a zero and a match"},
		{session.CylinderSummary{Doubt: advice.WhyShowsLess}, "hose split"},
		{session.CylinderSummary{Doubt: advice.WhyMisfires}, "misfires often"},
		{session.CylinderSummary{Hose: cycle.PerhapsJet}, "its hose may hold a restrictor"},
		{session.CylinderSummary{Hose: cycle.OddHose}, "Its difference may be wrong"},
	} {
		var out strings.Builder
		printSound(&out, sum, []session.CylinderSummary{c.summary})
		if !strings.Contains(out.String(), c.want) {
			t.Errorf("%+v: %q, want %q", c.summary, out.String(), c.want)
		}
	}
}

// A slow logger's rate is said with the pulses that it can hold; a fast one's is not.
func TestRateThatHoldsNoPulses(t *testing.T) {
	for rate, want := range map[int]string{100: "100 samples a second hold 20 pulses a second", 150: "hold 30 pulses",
		250: "", 1000: ""} {
		var table bytes.Buffer
		table.WriteString("t_us,kpa0\n")
		for i := range 200 {
			fmt.Fprintf(&table, "%d,%d\n", i*1_000_000/rate, 60+i%7)
		}
		in, err := capture.Open(&table)
		if err != nil {
			t.Fatal(err)
		}
		s := session.New(session.Config{Ambient: 101.3}, session.Options{})
		if err := s.RunRecording(context.Background(), in); err != nil {
			t.Fatal(err)
		}
		s.Chain(func(c *session.Chain) {
			if got := rateText(c); (want == "") != (got == "") || !strings.Contains(got, want) {
				t.Errorf("%d samples a second: %q, want %q", rate, got, want)
			}
		})
	}
}
