package cycle

import "math"

// A misfire by itself does nothing to a runner's pressure, as the valve is shut while
// the charge should burn. Afterwards the cylinder takes in against cooler residual gas,
// and the crank turns slower, as it had no push. So less is drawn: the cylinder's next
// dip is shallower, and the following ones a little. What is reported here is a dip that
// is far shallower than the cylinder's others. A misfire that leaves the dip as it is
// can't be seen in the pressures, nor can one where dips scatter by as much. A slow crank
// alone is no evidence: an idle that hunts does the same.

// Constants of the search for shallow dips. Chosen: no source says how much shallower.
const (
	// A misfire's dip lacks at least the share shallowShare of the usual depth,
	// and shallowSD times the scatter of the cylinder's dips.
	shallowShare = 0.22
	shallowSD    = 3.5
	// depthShare is the share by which a cycle renews the usual depth.
	depthShare = 0.05
	// dipReach is how far to each side of its usual middle a dip is looked for, in
	// cycles.
	dipReach = 0.12
	// minScatter is how far off a dip may count for in the usual depth while no scatter
	// is known, kPa.
	minScatter = 0.5
	// minUsualCycles is how many cycles it takes to know what is usual.
	minUsualCycles = 12
)

// misfires keeps the usual depth of the dips.
type misfires struct {
	depth, scatter [MaxCylinders]float64 // kPa, the scatter as a standard deviation
	cycles         int
}

// judge marks the span's misfires. lowest are the lowest pressures of the whole dips, also where
// a dip reaches beyond the span.
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
		if m.cycles > minUsualCycles && s.State[c] == OK && off > limit {
			s.Misfire[c] = true
			n++
		}
		// A dip far off counts for little, or misfires would become usual.
		most := 2*m.scatter[c] + minScatter
		off = min(max(off, -most), most)
		m.depth[c] -= share * off
		m.scatter[c] += share * (1.25*math.Abs(off) - m.scatter[c])
	}
	if s.N > 1 && n == s.N {
		s.Misfire = [MaxCylinders]bool{} // that was the throttle
	}
}
