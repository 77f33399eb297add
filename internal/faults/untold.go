package faults

// often reports whether so many misfires of the last cycles are often.
func (d *Cylinders) often(misfires float64) bool {
	return (d.cycles >= misfireCycles || misfires >= sureMisfires) &&
		misfires > max(misfireShare*d.cycles, leastMisfires)
}

// More than suspectMisfires of the last cycles, older ones counting less, are more than a sound cylinder is told to
// have. Chosen: two, some cycles ago; of sound ones 1 in 1,000 cycles is made up at most. decideCycles tell whether
// there are more. Chosen: after a blip it takes 30 cycles until one is told. So are suspectLonger of about the last
// manyCycles. Chosen: three in two minutes; one spark in twelve may hold for 15 s by chance (seen on the practice
// engine), just before the bank is level.
const (
	suspectMisfires, decideCycles = 1.2, 120
	suspectLonger, manyCycles     = 2.5, 1200.0
)

// Untold reports whether a cylinder is found ill and not told so yet, or looks ill, its draw not fitting its opening or
// it misfiring, and has not done so for long enough; so many cycles of one reading decide it.
func (d *Cylinders) Untold(cycles int) bool {
	for c, why := range d.Found {
		if why != d.told[c] || why == "" && (d.misfit[c] > 0 && cycles < misfitCycles+staysMisfit ||
			max(d.misfires[c]/suspectMisfires, d.longer[c]/suspectLonger) > 1 && cycles < decideCycles) {
			return true
		}
	}
	return false
}
