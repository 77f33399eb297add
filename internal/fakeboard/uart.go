package fakeboard

// Rates are serial rates in bit/s that boards and hosts are set to.
var Rates = []int{57_600, 115_200, 230_400, 250_000, 460_800, 500_000, 921_600, 1_000_000}

const (
	bitsAByte = 10 // start, eight of data lowest first, stop
	idleBits  = 12 // chosen: between two frames the line rests, here for a little over a byte
)

// Resample returns the bytes that a receiver set to the rate to reads while blocks are sent at the rate from, both in
// bit/s, 8 data bits, no parity, one stop bit. Each bit is looked at once, in its middle, counted from the edge of the
// start bit. strict drops a byte whose stop bit is wrong; else it is handed on as it is.
func Resample(blocks [][]byte, from, to int, strict bool) []byte {
	wire := levelsOf(blocks)
	at := func(t float64) bool { // t in bits of the sender
		i := int(t)
		return i >= len(wire) || wire[i]
	}
	step := float64(from) / float64(to)
	var out []byte
	for t := 0.0; t < float64(len(wire)); {
		if at(t) { // the line rests: on to the next edge
			t = float64(int(t) + 1)
			continue
		}
		if at(t + step/2) {
			t += step / 2 // too short for a start bit
			continue
		}
		var b byte
		for k := range 8 {
			if at(t + (float64(k)+1.5)*step) {
				b |= 1 << k
			}
		}
		end := t + 9.5*step
		sound := at(end)
		if sound || !strict {
			out = append(out, b)
		}
		t = end
		for !sound && t < float64(len(wire)) && !at(t) { // a new start needs an edge
			t = float64(int(t) + 1)
		}
	}
	return out
}

// levelsOf returns the levels of the line, one a bit of the sender; true is rest.
func levelsOf(blocks [][]byte) []bool {
	var wire []bool
	rest := func(n int) {
		for range n {
			wire = append(wire, true)
		}
	}
	rest(2 * bitsAByte)
	for _, block := range blocks {
		for _, b := range block {
			wire = append(wire, false)
			for k := range 8 {
				wire = append(wire, b>>k&1 == 1)
			}
			wire = append(wire, true)
		}
		rest(idleBits)
	}
	return wire
}
