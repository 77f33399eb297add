package cycle_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/cycle"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
)

// BenchmarkCost tells what a Tracker takes of a processor for a second of a four's engine, and the most for a quarter
// of a second, each the least of all rounds.
func BenchmarkCost(b *testing.B) {
	silent := []engine.Defect{{Misfire: 1}, {Misfire: 1}, {Misfire: 1}, {Misfire: 1}}
	for _, rate := range []int{500, 1000, 2000} {
		for _, c := range []struct {
			name     string
			from, to float64 // s
			running  bool
			defects  []engine.Defect
			act      func(e *engine.Engine) // at 4 s
		}{
			{"cranking", 4, 6, false, silent, (*engine.Engine).Start},
			{"running up", 4, 6, false, nil, (*engine.Engine).Start},
			{"idle", 4, 12, true, nil, nil},
			{"blip", 4, 10, true, nil, (*engine.Engine).Blip},
			{"6000 rpm", 10, 14, true, nil, func(e *engine.Engine) { e.HoldAt(6000) }},
		} {
			b.Run(fmt.Sprintf("%s %d", c.name, rate), func(b *testing.B) {
				done := c.act == nil
				r := recordWith(b, engine.Config{Bank: bank.Default(4), Seed: 1, Rate: rate, Running: c.running,
					Defects: c.defects, NoSensorErrors: true}, c.to, func(e *engine.Engine, at float64) {
					if at >= 4 && !done {
						done = true
						c.act(e)
					}
				})
				const block = 0.25 // s
				least := make([]float64, int((c.to-c.from)/block))
				b.ReportAllocs()
				for b.Loop() {
					r.costs(least, c.from, block)
				}
				sum, worst := 0.0, 0.0
				for _, s := range least {
					sum, worst = sum+s, max(worst, s)
				}
				b.ReportMetric(1e3*sum/(c.to-c.from), "ms/s")
				b.ReportMetric(1e3*worst, "ms/worst-quarter")
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// costs keeps in least how many seconds a Tracker takes for each block of the recording, if that is less than before.
func (r *recording) costs(least []float64, from, block float64) {
	t := cycle.NewTracker(cycle.Config{Channels: r.bank.Channels, Ambient: pressure.KPa(r.ambient)})
	at, begun := -1, time.Now()
	for i := range r.samples {
		if k := int(math.Floor((r.samples[i].Time - from) / block)); k != at {
			now := time.Now()
			if took := now.Sub(begun).Seconds(); at >= 0 && at < len(least) && (least[at] == 0 || took < least[at]) {
				least[at] = took
			}
			at, begun = k, now
		}
		t.Push(&r.samples[i])
	}
}
