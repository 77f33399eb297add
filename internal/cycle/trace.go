package cycle

// Trace writes the absolute pressure of a cylinder (from 1) over some seconds, in kPa: the first
// of len(into) points at start, the others evenly after it, the last a step before the end. It is
// for looking at: the hose's lag is in it. It reports false, and writes nothing, when the samples
// of that time are not kept: they reach back some cycles.
func (t *Tracker) Trace(cylinder int, start, seconds float64, into []float64) bool {
	h := t.history
	if h.count < 2 || start < h.oldest() || start+seconds > h.newest() {
		return false
	}
	step := seconds / float64(len(into))
	for i := range into {
		sample, share := h.find(start + float64(i)*step)
		into[i] = h.value(cylinder-1, sample, share)
	}
	return true
}
