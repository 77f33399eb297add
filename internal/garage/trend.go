package garage

import (
	"math"
	"path/filepath"
	"slices"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Trend is what the records of a bike say together.
type Trend struct {
	// Points are the records, the oldest first.
	Points []TrendPoint
	// Drifts are by cylinder, from 1 on; of records without a zero pass there is none, as the sensors' own zero errors
	// would count.
	Drifts []Drift
	// Effects are what each screw was found to do, in the order of first mention.
	Effects []EffectTrend
}

// TrendPoint is a record in a Trend. Before and After are each cylinder's draw minus the mean of all draws, in kPa,
// from cylinder 1 on; NaN unknown. Unlike differences from the reference they don't depend on which cylinder that was.
type TrendPoint struct {
	Path          string
	Time          time.Time
	Before, After []pressure.KPa
	// Zeroed: a zero pass took the sensors' own zero errors off.
	Zeroed bool
}

// Drift is how far a cylinder moves away between a levelling and the next look: its
// place before minus its place after the record before.
type Drift struct {
	Cylinder int
	// Mean is in kPa, NaN without any; HalfWidth is that of its 95 % interval by Student's t, NaN with fewer than two.
	Mean, HalfWidth pressure.KPa
	// Times is how many times it was seen, and Same how many of them went the way of Mean.
	Times, Same int
}

// leastDrifts is how often a drift must have been seen to be called one, and
// leastDriftKPa how large it must be: one within the aim needs no hand. Chosen.
const (
	leastDrifts   = 3
	leastDriftKPa = balance.DefaultAim
)

// Real reports whether the drift stands out from its own scatter and is worth a look.
func (d *Drift) Real() bool {
	return d.Times >= leastDrifts && math.Abs(float64(d.Mean)) > max(float64(d.HalfWidth), float64(leastDriftKPa))
}

// EffectTrend is what a screw was found to do over time.
type EffectTrend struct {
	Screw string
	Times []time.Time
	// KPaPerTurn are the changes in draw of the cylinders it moves per clockwise turn.
	KPaPerTurn []float64
	// Factors are by which factor either way each may be off, by 95 %; NaN unknown.
	Factors []NullFloat
}

// TrendOf puts records together, whose order does not matter. One that a later record
// corrects counts no more. Of several of one run the last counts: they share the reading from before.
func TrendOf(records []StoredSync) Trend {
	var t Trend
	drifts := map[int][]float64{}
	all := standing(records)
	for i, s := range all {
		r := &s.Kept
		if sameJob(all, i, i+1) && (all[i+1].Kept.After != nil || r.After == nil) ||
			sameJob(all, i, i-1) && r.After == nil && all[i-1].Kept.After != nil { // the last with a reading stands
			continue
		}
		p := TrendPoint{Path: s.Path, Time: r.Time, Before: PlacesOf(r.Before), After: PlacesOf(r.After),
			Zeroed: r.Zero != nil}
		if p.Before == nil && p.After == nil {
			continue
		}
		if n := len(t.Points); n > 0 && p.Zeroed && t.Points[n-1].Zeroed {
			last := t.Points[n-1].After
			for c := range min(len(last), len(p.Before)) {
				if d := float64(p.Before[c] - last[c]); !math.IsNaN(d) {
					drifts[c+1] = append(drifts[c+1], d)
				}
			}
		}
		t.Points = append(t.Points, p)
		for _, e := range r.Effects {
			t.addEffect(e, r.Time)
		}
	}
	for c := 1; c <= bank.MaxCylinders; c++ {
		if d := drifts[c]; d != nil {
			t.Drifts = append(t.Drifts, driftOf(c, d))
		}
	}
	return t
}

// sameJob reports whether two of the records are of one job; not where there is no j-th.
func sameJob(all []StoredSync, i, j int) bool {
	return j >= 0 && j < len(all) && all[i].Kept.SameJob(&all[j].Kept)
}

// standing returns the records that no other corrects, by time. A correction stands at the time of what it corrects.
func standing(records []StoredSync) []StoredSync {
	times, gone := map[string]time.Time{}, map[string]bool{}
	for _, s := range records {
		times[filepath.Base(s.Path)], gone[s.Kept.Corrects] = s.Kept.Time, true
	}
	var out []StoredSync
	for _, s := range records {
		if gone[filepath.Base(s.Path)] {
			continue
		}
		if at, ok := times[s.Kept.Corrects]; ok {
			s.Kept.Time = at
		}
		out = append(out, s)
	}
	slices.SortStableFunc(out, func(a, b StoredSync) int { return a.Kept.Time.Compare(b.Kept.Time) })
	return out
}

// PlacesOf returns each cylinder's draw minus the mean of all, in kPa, from cylinder 1 on;
// NaN unknown, and nil without a reading.
func PlacesOf(r *RecordReading) (places []pressure.KPa) {
	if r == nil {
		return nil
	}
	var sum NullKPa
	for _, c := range r.Cylinders {
		sum += c.DrawKPa
	}
	mean := sum / NullKPa(len(r.Cylinders))
	for n := range r.Cylinders {
		places = append(places, pressure.KPa(r.Cylinder(n+1).DrawKPa-mean))
	}
	return places
}

// addEffect adds what a screw was found to do.
func (t *Trend) addEffect(e RecordEffect, at time.Time) {
	if math.IsNaN(float64(e.KPaPerTurn)) {
		return
	}
	i := slices.IndexFunc(t.Effects, func(x EffectTrend) bool { return x.Screw == e.Screw })
	if i < 0 {
		i = len(t.Effects)
		t.Effects = append(t.Effects, EffectTrend{Screw: e.Screw})
	}
	x := &t.Effects[i]
	x.Times, x.KPaPerTurn = append(x.Times, at), append(x.KPaPerTurn, float64(e.KPaPerTurn))
	if !(e.Factor >= 1) { // an older record
		e.Factor = NullFloat(math.NaN())
	}
	x.Factors = append(x.Factors, e.Factor)
}

func driftOf(cylinder int, d []float64) Drift {
	mean, half := series.MeanInterval(d)
	out := Drift{Cylinder: cylinder, Mean: pressure.KPa(mean), HalfWidth: pressure.KPa(half), Times: len(d)}
	for _, v := range d {
		if v*mean > 0 {
			out.Same++
		}
	}
	return out
}
