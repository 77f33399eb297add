package balance

import "math"

// Constants of play in the linkage.
const (
	// A blip has moved what a screw moves where that stands otherwise after it, by leastPlay, kPa, by playSigmas
	// standard deviations, and by more than the speed explains. Chosen.
	leastPlay, playSigmas = 0.15, 4.0
	// playBlips is how many blips in a row must have moved it for that to be play. Chosen: the first one after a
	// rebuild seats the linkage, and what that moves is levelled.
	playBlips = 2
	// mostPlayKPa is the most that is taken for play, kPa. Chosen: more is a part that is loose, or that sticks.
	mostPlayKPa = 1.0
)

// linkagePlay is what blips move though nobody turns a screw. Levelled, it would be elsewhere after the next blip.
type linkagePlay struct {
	blips int     // in a row that moved something
	most  float64 // by how much at most, kPa
	sum   float64 // of all those, kPa
	taken float64 // at most, where the bank is taken as level with it, kPa; 0 is not
}

// blipped notes what a blip has moved, from the bank as it stood before.
func (p *linkagePlay) blipped(before *state, w *window) {
	now, most := w.atRest(), 0.0
	for s := range w.link.Screws() {
		least := max(leastPlay, w.disturbance(s, before, w.next),
			playSigmas*math.Sqrt(w.wantedVariance(s)*2/float64(w.cycles())))
		if moved := math.Abs(now.wanted[s] - before.wanted[s]); moved > least {
			most = max(most, moved)
		}
	}
	if most == 0 || most > mostPlayKPa {
		p.blips, p.sum = 0, 0
		return
	}
	p.blips++
	p.most, p.sum = max(p.most, most), p.sum+most
}

// takePlay takes a bank as level, in doubt, that is beyond the aim after a blip by no more than blips have moved it by
// each time.
func (a *advisor) takePlay(r *Reading, w *window) bool {
	p := &a.play
	if spread, _ := a.spread(r, w); p.blips < playBlips || spread > a.aim+p.most {
		return false
	}
	p.taken = p.most
	return true
}

// told is how far blips move the bank, in the mean, where it was taken as level with that, kPa; 0 is not.
func (p *linkagePlay) told() float64 {
	if p.taken == 0 {
		return 0
	}
	return p.sum / float64(p.blips)
}
