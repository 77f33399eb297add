package fakeboard

import (
	"bytes"
	"math/rand/v2"

	"evendraw/internal/frame"
)

// IsData reports whether a block of Recording.Blocks is a data frame.
func IsData(block []byte) bool { return len(block) > 2 && block[2] == 'D' }

// Join returns blocks in one piece.
func Join(blocks [][]byte) []byte { return bytes.Join(blocks, nil) }

// Junk returns n random bytes.
func Junk(random *rand.Rand, n int) []byte {
	b := make([]byte, n)
	for i := range b {
		b[i] = byte(random.Uint32())
	}
	return b
}

// Lossy loses that share of the data frames, by chance, and returns how many; it keeps the
// first and the last, as a loss before or after all others can't be known.
func Lossy(random *rand.Rand, blocks [][]byte, share float64) (out [][]byte, lost int) {
	first, last := dataEnds(blocks)
	for i, b := range blocks {
		if IsData(b) && i != first && i != last && random.Float64() < share {
			lost++
			continue
		}
		out = append(out, b)
	}
	return out, lost
}

// dataEnds returns where the first and the last data frame are.
func dataEnds(blocks [][]byte) (first, last int) {
	first = -1
	for i, b := range blocks {
		if IsData(b) {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	return first, last
}

// WithoutRun loses n data frames in a row, the first of them number at.
func WithoutRun(blocks [][]byte, at, n int) (out [][]byte) {
	number := 0
	for _, b := range blocks {
		if IsData(b) {
			number++
			if number > at && number <= at+n {
				continue
			}
		}
		out = append(out, b)
	}
	return out
}

// Flipped returns a copy of a block in which n different bits, chosen by chance between its delimiters, are wrong.
func Flipped(random *rand.Rand, block []byte, n int) []byte {
	out := bytes.Clone(block)
	inside := out[1 : len(out)-1]
	for done := 0; done < n; {
		bit := random.IntN(8 * len(inside))
		if mask := byte(1) << (bit % 8); (inside[bit/8]^block[1+bit/8])&mask == 0 {
			inside[bit/8] ^= mask
			done++
		}
	}
	return out
}

// BootText is what a boot loader prints at a rate of its own; it means nothing here.
const BootText = "\r\nboot 2.1 (cold)\r\nclk ok\x00\x03\xff\xfe\r\n> \x1b[0m"

// OtherLayouts are announcements of the same board with a field added to, or renamed in, the layout of its data frames.
func OtherLayouts(serial string, n int) []*frame.Announcement {
	added, renamed := Announcement(serial, n), Announcement(serial, n)
	added.Layout = "counter:u32 tick:u32 overflow:u16 heat:u16 count:u16*" + added.Layout[len(added.Layout)-1:]
	renamed.Layout = "counter:u32 clock:u32 overflow:u16 count:u16*" + added.Layout[len(added.Layout)-1:]
	for _, a := range []*frame.Announcement{added, renamed} {
		a.Program = "1.4.0"
	}
	return []*frame.Announcement{added, renamed}
}
