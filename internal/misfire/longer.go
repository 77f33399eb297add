package misfire

// A charge that did not burn has the whole cycle after its push last longer than the one before, by as much as the
// beats beside it say that the crank was slower. Where the air in a hose swings, beats come and go by themselves, and
// the cycles are as long as ever. From one to the next that scatters, as other pushes do; in the mean it does not.

// Constants of that.
const (
	// agreesEnough is how much of the slowings the longer cycles must be in the mean, of the last ones by agreeShare.
	// Chosen; measured in the mean of a recording: 0.9 to 1.14 of true misfires, single ones 0.75 to 1.4; 0.19 and 0.41
	// of those made up on two sound fours with hoses that ring at 41 and 47 Hz. Of misfires one in two it costs 20 of
	// 1,250.
	agreesEnough = 0.7
	agreeShare   = 0.1
)

// longer is how much of the slowings of one cylinder's pushes that looked missing the longer cycles were, in the mean.
type longer struct {
	mean float64
	n    int
}

// longer takes a push of cylinder y in cycle k that looks missing, and reports whether those of its cylinder do have
// the cycles after them last longer.
func (m *Watch) longer(y, k int) bool {
	l := &m.pushes[y].longer
	if agrees := m.beats.lengthening(y, k) / m.own(y, k); agrees == agrees {
		l.n++
		l.mean += max(agreeShare, 1/float64(l.n)) * (agrees - l.mean)
	}
	return l.mean > agreesEnough
}

// lengthening returns by what share the cycle after the push of cylinder y in cycle number k is longer than the one
// before it: each from beat to beat of one cylinder, the one nearest to the push. NaN where beats are missing.
func (b *beats) lengthening(y, k int) float64 {
	push := b.place[y] + pushAfter
	const far = 9
	var before, after float64
	nearBefore, nearAfter := float64(far), float64(far)
	at := func(c, j int) float64 { return b.at[c][(k+j)&(beatsKept-1)] }
	for j := -1; j <= 2; j++ {
		for c := range b.n {
			off := b.place[c] + float64(j) - push
			if off <= pushTolerance && -off < nearBefore {
				nearBefore, before = -off, at(c, j)-at(c, j-1)
			}
			if off >= -pushTolerance && off < nearAfter {
				nearAfter, after = off, at(c, j+1)-at(c, j)
			}
		}
	}
	return 2 * (after - before) / (after + before)
}

// Either returns of which cylinders a push was missing in the cycle that was pushed last, where it can't be told whose:
// they push between the same two beats.
func (m *Watch) Either() [MaxCylinders]bool { return m.either }
