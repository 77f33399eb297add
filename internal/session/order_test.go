package session_test

import (
	"math/rand/v2"
	"slices"

	"evendraw/internal/fakeboard"
)

// repeated sends each data frame 1 to most times, and returns how many too many.
func repeated(random *rand.Rand, blocks [][]byte, most int) (out [][]byte, extra int) {
	for _, b := range blocks {
		out = append(out, b)
		if !fakeboard.IsData(b) {
			continue
		}
		for range random.IntN(most) {
			out = append(out, b)
			extra++
		}
	}
	return out, extra
}

// swapped exchanges data frames with the one after them, by chance, none of them twice. The first stays, as nothing can
// be known to be missing before it.
func swapped(random *rand.Rand, blocks [][]byte, share float64) [][]byte {
	out := slices.Clone(blocks)
	for i := slices.IndexFunc(out, fakeboard.IsData) + 1; i+1 < len(out); i++ {
		if fakeboard.IsData(out[i]) && fakeboard.IsData(out[i+1]) && random.Float64() < share {
			out[i], out[i+1] = out[i+1], out[i]
			i++
		}
	}
	return out
}
