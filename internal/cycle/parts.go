package cycle

const (
	// maxPartDifference is the normalised difference of a template from itself, moved by a
	// part of the cycle, up to which it holds several cycles: 0 is the same, 1 no
	// better than chance. Chosen: true cycles differ by 0.5 and more.
	maxPartDifference = 0.2
	// minPartCycles is how many cycles a template must have learned before that is
	// asked. Chosen: at the second measurement of its shape.
	minPartCycles = 2 * measureEvery
)

// countCycles returns how many cycles the template holds: 1, or into how many alike parts it
// divides. A search in the middle of a blip may end on a multiple of the cycle, and following
// would stay there, as it only holds a cycle against the last.
func (t *template) countCycles() int {
	if t.cycles < minPartCycles {
		return 1
	}
	for m := maxParts; m > 1; m-- {
		var differs, swings float64
		for _, k := range t.kpa {
			d, s := differenceAt(k[:], float64(bins)/float64(m))
			differs += d
			swings += s
		}
		if differs < maxPartDifference*swings {
			return m
		}
	}
	return 1
}

// differenceAt returns the sum of squares of the difference of one cylinder's template from
// itself, moved by so many bins, and what chance would give.
func differenceAt(k []float64, move float64) (differs, swings float64) {
	whole := int(move)
	share := move - float64(whole)
	var s, q float64
	for i, v := range k[:bins] {
		j := (i + whole) % bins
		d := k[j] + share*(k[j+1]-k[j]) - v
		differs += d * d
		s += v
		q += v * v
	}
	return differs, 2 * (q - s*s/bins)
}
