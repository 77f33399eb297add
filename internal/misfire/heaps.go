package misfire

import "math"

// heaps cuts figures in order in two where the squares about the two means are least (Otsu, 1979); it returns
// the means, how many are in the lower heap, and the standard deviation about the means.
func heaps(all []float64) (lower, upper float64, below int, sd float64) {
	sum, squares, n := 0.0, 0.0, float64(len(all))
	for _, v := range all {
		sum += v
		squares += v * v
	}
	most, part := 0.0, 0.0
	for i, v := range all[:len(all)-1] {
		part += v
		k := float64(i + 1)
		l, u := part/k, (sum-part)/(n-k)
		if between := k*l*l + (n-k)*u*u; between > most || i == 0 {
			most, lower, upper, below = between, l, u, i+1
		}
	}
	return lower, upper, below, math.Sqrt(max(squares-most, 0) / n)
}
