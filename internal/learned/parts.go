package learned

// Constants of an amount that is made in parts. Chosen: wary hands turn an eighth, and look for two or three seconds.
const (
	// A hand at rest that has made less than partShare of an amount of leastParts turns or more may go on by itself;
	// one that was seen to, less than restShare of what is more than onePart.
	partShare, leastParts = 0.4, 5.0 / 16
	restShare, onePart    = 0.7, 9.0 / 64
	// partSeconds is for how long it is given to: a hand for which an order stands longer makes it anew.
	partSeconds = 3.2
)

// Parts is what is seen of a hand that may make an amount in parts. Were it told an amount as it rests, what it has
// made would pass for what the whole amount does, and the next one be too large.
type Parts struct {
	at   float64 // since when it rests, s; 0 is not
	x    float64 // what was wanted then, kPa
	seen bool    // it has gone on by itself before
}

// Begin begins a new amount.
func (p *Parts) Begin() { p.at = 0 }

// Wait reports whether a hand that is at rest at that time, s, and has made so many turns of an amount, is given time
// to go on by itself; x is what is wanted of its screw now, kPa.
func (p *Parts) Wait(now, x, made, amount float64) bool {
	share, least := partShare, leastParts
	if p.seen {
		share, least = restShare, onePart
	}
	if !(amount >= least) || made > share*amount {
		return false
	}
	if p.at == 0 {
		p.at, p.x = now, x
	}
	waits := now-p.at < partSeconds
	p.seen = p.seen && waits
	return waits
}

// GoOn reports whether a hand that has rested has moved on from there, by more than least, kPa.
func (p *Parts) GoOn(x, least float64) bool {
	if p.at == 0 || max(x-p.x, p.x-x) < least {
		return false
	}
	p.at, p.seen = 0, true
	return true
}
