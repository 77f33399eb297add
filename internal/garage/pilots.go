package garage

import (
	"math"
	"time"
)

// RebuildFor is how long a later bench card that says nothing of the pilot screws leaves what an earlier one of the
// same moment says. Chosen: parts that are waited for.
const RebuildFor = 7 * 24 * time.Hour

// pilotsOn is where a bench card says that the pilot screws stand; known is false where it says nothing of them.
func pilotsOn(card *BenchCard) (out []float64, known bool) {
	for _, c := range card.Carburettors {
		turns := float64(c.PilotTurnsOut)
		out, known = append(out, turns), known || !math.IsNaN(turns)
	}
	return out, known
}

// PilotsOut is where a bike's pilot screws stand, in turns out by cylinder - 1, NaN unknown: by its newest
// bench card that tells, and the records since; nil where neither tells.
func (g *Garage) PilotsOut(bike string) (out []float64) {
	var since time.Time
	cards, _ := g.ListBench(bike)
	moment := ""
	for i := range cards {
		card := &cards[i].Kept
		if turns, known := pilotsOn(card); known || card.Moment != moment || card.Time.Sub(since) > RebuildFor {
			out, since, moment = turns, card.Time, card.Moment
		}
	}
	records, _ := g.ListSyncs(bike)
	for i := range records {
		rec := &records[i].Kept
		if rec.Time.Before(since) {
			continue
		}
		for c, turns := range rec.PilotTurnsOut {
			if len(out) <= c {
				out = append(out, math.NaN())
			}
			if t := float64(turns); !math.IsNaN(t) {
				out[c] = t
			}
		}
	}
	return out
}
