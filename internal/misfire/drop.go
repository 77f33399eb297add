package misfire

import "math"

// A cylinder that stops firing takes its share of the torque with it, from one cycle to the next: the speed drops by a
// few per cent a cycle, and comes to rest a third lower and more, or the engine stalls. As no butterfly was shut, all
// draw less there. A throttle that is shut has all draw more while the speed falls; what else takes torque away, as a
// choke, does so slowly. That a cylinder may have stopped firing shows in speed and draw alone, at whatever angles they
// fire; which one it was, in how the crank goes from then on beside how it went before. A twin stalls, and one that
// misfires drops as far for a second or two: it is not looked at.

// Constants of that.
const (
	// usualCycles is over how many cycles speed and draw are averaged before the drop, leastUsual the fewest. Chosen:
	// 2 s of an idle.
	usualCycles, leastUsual = 16.0, 24
	// It begins where a cycle is longer by dropBegins, as a share. Chosen: a lumpy idle's wander by 5 %.
	dropBegins = 0.1
	// The speed falls by steepDrop, as a share, in steepCycles, and all drop of the speed, as a share of the period,
	// is leastDrop. Chosen. Measured with a cylinder of four and three that stops firing: 0.2 and more, and 0.4 and
	// more; a choke that is shut takes 1 to 2 s (common practice, no source).
	steepCycles = 6
	steepDrop   = 0.15
	leastDrop   = 0.25
	// All draw less by lessDraw then, as a share, and never drew more by moreDraw. Chosen. Measured: 0.25 to 0.3 less;
	// a throttle stop that is turned back 0.1 and more above.
	lessDraw, moreDraw = 0.08, 0.05
	// The speed has come to rest where the last restCycles are within restShare of those before: an engine that is
	// switched off is not told of. Chosen.
	restCycles = 5
	restShare  = 0.06
	// dropSeconds is how long it may all take. Chosen: 2.5 to 3.5 s were measured.
	dropSeconds = 5.0
	// It is over where speed and draw are back within backShare of what was usual: it fires again. A throttle stop that
	// is opened brings back the speed, not the draw. Chosen.
	backShare = 0.07
)

// drop watches for such a drop.
type drop struct {
	period, draw  float64 // usual, s and kPa
	cycles        int     // in these
	began         float64 // s; 0 while there is none
	steep         bool    // it was
	fell          bool
	last, lastHad [2 * restCycles]float64 // periods and draws of the last cycles
	n             int                     // in last
}

// push takes the next cycle.
func (d *drop) push(y *Cycle) {
	if len(y.Dip) < 3 {
		return
	}
	at := d.n % len(d.last)
	ago := d.last[(at+len(d.last)-steepCycles)%len(d.last)]
	d.last[at], d.lastHad[at] = y.Period, y.Draw
	d.n++
	period, draw, before := d.lately()
	slower, drawn := period/d.period-1, draw/d.draw-1
	switch {
	case d.fell:
		if slower < backShare && drawn > -backShare {
			*d = drop{}
		}
	case d.began == 0:
		d.learn(y)
	case y.Start-d.began > dropSeconds, drawn > moreDraw: // another speed
		*d = drop{}
	case slower < dropBegins/2:
		d.began = 0
	default:
		d.steep = d.steep || ago < (1-steepDrop)*y.Period
		d.fell = d.steep && slower > leastDrop && drawn < -lessDraw && period < (1+restShare)*before
	}
}

// learn takes a cycle into what is usual, which begins anew where the speed has changed; a drop begins where what was
// usual is known.
func (d *drop) learn(y *Cycle) {
	off := y.Period/d.period - 1
	switch {
	case off > dropBegins && d.cycles >= leastUsual:
		d.began, d.steep = y.Start, false
		return
	case !(math.Abs(off) < dropBegins):
		d.cycles = 0
	}
	share := max(1/usualCycles, 1/float64(d.cycles+1))
	d.period += share * (y.Period - d.period)
	d.draw += share * (y.Draw - d.draw)
	d.cycles++
}

// lately returns the mean period and draw of the last restCycles, and the mean period of as many before.
func (d *drop) lately() (period, draw, before float64) {
	for i := range restCycles {
		now := (d.n - 1 - i + len(d.last)) % len(d.last)
		then := (d.n - 1 - restCycles - i + 2*len(d.last)) % len(d.last)
		period += d.last[now] / restCycles
		draw += d.lastHad[now] / restCycles
		before += d.last[then] / restCycles
	}
	return period, draw, before
}

// Constants of which cylinder it was.
const (
	// The crank is slower after its push, of droppedCycles cycles in the mean and beside how it was before the drop, by
	// droppedApart over the number of cylinders more than after any other. Chosen; measured, for one cylinder: 0.09 to
	// 0.4 more, on fours and triples, even ones and at 0, 180 and 450 degrees, behind unlike hoses.
	droppedCycles = 12
	droppedApart  = 0.08
)

// dropped is which cylinder stopped firing.
type dropped struct {
	place  [MaxCylinders]float64 // usual places of the beats before the drop
	period float64               // usual then, s
	sum    [MaxCylinders]float64 // of slowings
	cycles int                   // in sum
	is     int                   // the cylinder, from 1; 0 is unknown
}

// findDropped looks for the cylinder that stopped firing as the speed dropped. Where two push between the same two
// beats it can't be told, nor behind hoses whose lags are unknown.
func (m *Watch) findDropped(y *Cycle) {
	b, d := &m.beats, &m.dropped
	if m.drop.began == 0 {
		*d = dropped{place: b.place, period: m.drop.period}
	}
	if !m.drop.fell || d.is > 0 || y.Lags == nil {
		return
	}
	var slow [MaxCylinders]float64
	for c := range b.n {
		if slow[c] = m.slowingSince(y, c, b.cycles-lateCycles); b.shared(c) || math.IsNaN(slow[c]) {
			return
		}
	}
	for c := range b.n {
		d.sum[c] += slow[c]
	}
	if d.cycles++; d.cycles < droppedCycles {
		return
	}
	most, next := math.Inf(-1), math.Inf(-1)
	for c, v := range d.sum[:b.n] {
		if v > most {
			most, next, d.is = v, most, c+1
		} else {
			next = max(next, v)
		}
	}
	if (most-next)/droppedCycles < droppedApart/float64(b.n) {
		d.is = 0
	}
	d.sum, d.cycles = [MaxCylinders]float64{}, 0
}

// slowingSince returns by what share the crank is slower after the push of cylinder c of three and more in cycle number
// k than before it, beyond what was usual before the drop. What is late by a hose's lag is so by a smaller share of a
// longer cycle.
func (m *Watch) slowingSince(y *Cycle, c, k int) float64 {
	b, d := &m.beats, &m.dropped
	place := func(c int) float64 { return d.place[c] + y.Lags[c]*(1/y.Period-1/d.period) }
	return slowing(b.n, place(c)+pushAfter, func(c, j int) (at, time float64) {
		return place(c) + float64(j), b.at[c][(k+j)&(beatsKept-1)]
	})
}

// Fell reports whether the speed has dropped at once, and the draws with it, so that a cylinder may have stopped
// firing; and which, from 1, 0 where that is unknown.
func (m *Watch) Fell() (fell bool, cylinder int) { return m.drop.fell, m.dropped.is }
