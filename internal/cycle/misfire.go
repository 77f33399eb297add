package cycle

import "math"

// What a misfire does to a runner's pressure: nothing by itself, for the valve is
// shut while the charge should burn. The cylinder then takes in against cooler
// residual gas, and the crank turns slower through the interval that had no push,
// so that less is drawn: its next dip is shallower, and the following ones a
// little. What is told here is the dip that is far shallower than the cylinder's
// others. A misfire that leaves the dip as it is can't be seen in the pressures;
// neither can one when the dips scatter by as much. A slow crank alone is no
// evidence: an idle that hunts does the same. (Common practice has no source for
// how much shallower; the figures below are chosen.)

// Constants of the search for shallow dips.
const (
	// shallowShare of the usual depth is missing from a misfire's dip at least,
	// and shallowSD times the scatter of the cylinder's own dips.
	shallowShare = 0.22
	shallowSD    = 3.5
	// depthShare is the share by which a cycle renews what is usual.
	depthShare = 0.05
	// dipReach is how far to each side of its middle a dip is looked for, in
	// cycles.
	dipReach = 0.12
	// leastScatter lets the scatter begin, kPa.
	leastScatter = 0.5
	// misfireAfter is how many cycles it takes to know what is usual.
	misfireAfter = 12
)

// misfires keeps what depth of dip is usual.
type misfires struct {
	depth, scatter [MaxCylinders]float64 // kPa, the scatter as a standard deviation
	cycles         int
}

// judge marks the span's misfires; lowest are the dips' lowest pressures, each
// whole, though it may reach beyond the span.
func (m *misfires) judge(s *Span, lowest *[MaxCylinders]float64) {
	m.cycles++
	share := max(depthShare, 1/float64(m.cycles))
	n := 0
	for c := range s.N {
		depth := float64(s.Highest[c]) - lowest[c]
		if m.cycles == 1 {
			m.depth[c] = depth
		}
		off := m.depth[c] - depth
		limit := max(shallowShare*m.depth[c], shallowSD*m.scatter[c])
		if m.cycles > misfireAfter && s.State[c] == OK && off > limit {
			s.Misfire[c] = true
			n++
		}
		// What is far off counts for little, or misfires would become usual.
		most := 2*m.scatter[c] + leastScatter
		off = min(max(off, -most), most)
		m.depth[c] -= share * off
		m.scatter[c] += share * (1.25*math.Abs(off) - m.scatter[c])
	}
	if s.N > 1 && n == s.N {
		s.Misfire = [MaxCylinders]bool{} // a throttle, no misfire
	}
}
