package sensor

import (
	"math"

	"evendraw/internal/series"

	"gonum.org/v1/gonum/stat"
)

// ClockFit compares the board's clock with another clock, by a line through arrivals. One arrival alone
// shows little, as bytes come in batches of some 16 ms.
type ClockFit struct {
	board, other []float64
}

// Push takes a frame's time by the board's clock and when it arrived by the other one, both in
// seconds since any start.
func (c *ClockFit) Push(board, other float64) {
	c.board, c.other = append(c.board, board), append(c.other, other)
}

// clockMinSeconds is the shortest time from which a clock is judged. Chosen.
const clockMinSeconds = 3.0

// Error returns by which share the board's clock is faster than the other, and the half-width of the 95 %
// interval of that; NaN when too little has come. The interval is from how far each quarter of the time lies
// off the line.
func (c *ClockFit) Error() (fast, interval float64) {
	n := len(c.board)
	const parts = 4
	if n < 8*parts || c.board[n-1]-c.board[0] < clockMinSeconds {
		return math.NaN(), math.NaN()
	}
	intercept, slope := fitLine(c.other, c.board)
	// The quarters' mean residuals scatter as the line's ends do.
	var off [parts]float64
	for p := range off {
		from, to := p*n/parts, (p+1)*n/parts
		for i := from; i < to; i++ {
			off[p] += (c.board[i] - intercept - slope*c.other[i]) / float64(to-from)
		}
	}
	// A line over four points a quarter of the time apart has a slope of standard deviation
	// sd/(quarter·√5).
	quarter := (c.other[n-1] - c.other[0]) / parts
	return slope - 1, series.Student95(parts-1) * stat.StdDev(off[:], nil) / (quarter * math.Sqrt(5))
}
