package hoses

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"evendraw/internal/bank"
)

// Verdict says whether the hoses sit on the cylinders they should.
type Verdict string

// Verdicts.
const (
	AsExpected Verdict = "as-expected"
	Exchanged  Verdict = "exchanged"
	CannotTell Verdict = "cannot-tell"
)

// Order is what the order of the pulses says of the hoses. Cylinders count
// from 1.
type Order struct {
	Verdict Verdict
	// Exchanged are the pairs of cylinders whose hoses are exchanged; empty when
	// the hoses are mixed up in another way.
	Exchanged [][2]int
	// Alternatives are other pairs that would look the same.
	Alternatives [][2]int
	// Unseen are exchanges of two hoses that would leave the order as it is.
	Unseen [][2]int
	// OnePort are pairs of cylinders whose pulses come at the same angle, though they fire apart: both hoses
	// are on one port.
	OnePort [][2]int
	// Angles is set where the pulses plainly come at other angles than the card has them at, whichever hose sits where:
	// degrees of crank after that of the cylinder that fires first, by cylinder - 1.
	Angles []float64
	// Off is how far the pulses lie off where the best order has them, degrees of
	// crank rms.
	Off float64
}

// AnglesText says of those angles, to ten degrees, which cylinder's pulse comes where.
func (o *Order) AnglesText() string {
	var all []string
	for i, a := range o.Angles {
		all = append(all, fmt.Sprintf("%d at %.0f", i+1, math.Mod(10*math.Round(a/10), bank.CycleDegrees)))
	}
	return strings.Join(all, ", ")
}

// Constants of the order of the pulses, degrees of crank.
const (
	// maxOrderOff is the largest Off of an order that fits. Chosen: hoses of 2 and
	// 6 ms differ by 25 degrees at idle.
	maxOrderOff = 30.0
	// minOrderLead is by how much the Off of the next best order must be larger. Chosen.
	minOrderLead = 12.0
	// maxTogether is how far apart pulses of one port are at most, and minFiringApart how far apart their
	// cylinders must fire. Chosen: hoses of 2 and 6 ms differ by 25 degrees at idle, cylinders by 90 or more.
	maxTogether, minFiringApart = 35.0, 80.0
	// sameOrderOff is the difference below which two orders look the same. Chosen.
	sameOrderOff = 1.0
)

// PulseOrder holds the dips against the firing order. dips gives, by cylinder - 1,
// where in the cycle each channel dips on average, as a share of the cycle from any
// boundary, NaN where unknown; firing gives when each cylinder fires, in degrees of
// crank. As the boundary may be anywhere on the crank, an exchange that turns the
// order as a whole can't be seen.
func PulseOrder(dips, firing []float64) Order {
	n := len(firing)
	out := Order{Verdict: CannotTell, Off: math.NaN()}
	if n != len(dips) || n < 2 || n > bank.MaxCylinders || slices.ContainsFunc(dips, math.IsNaN) {
		return out
	}
	var pulses [bank.MaxCylinders]float64
	for i, d := range dips {
		pulses[i] = d * 720
	}
	out.OnePort = onePort(pulses[:n], firing)
	// An order says on which cylinder each channel's hose really sits.
	orders := ordersOf[n]()
	straight := orders[0]
	best, least, next := straight, math.Inf(1), math.Inf(1)
	off := make([]float64, len(orders))
	for k, o := range orders {
		off[k] = scatter(pulses[:n], firing, o)
		// Of orders that look the same, the one with the fewest hoses moved.
		if off[k] < least-sameOrderOff || off[k] < least+sameOrderOff && countMoved(o) < countMoved(best) {
			best = o
		}
		least = min(least, off[k])
		if p, ok := exchangedPair(o); ok && sameOrders(firing, straight, o) {
			out.Unseen = append(out.Unseen, p)
		}
	}
	for k, o := range orders {
		if !sameOrders(firing, best, o) {
			next = min(next, off[k])
		}
	}
	out.Off = least
	switch {
	case math.IsInf(next, 1) || least > maxOrderOff || next < least+minOrderLead:
		return out // no order differs, none fits, or two do
	case sameOrders(firing, straight, best):
		out.Verdict = AsExpected
		return out
	}
	out.Verdict = Exchanged
	for _, o := range orders {
		if p, ok := exchangedPair(o); ok && sameOrders(firing, best, o) {
			out.Alternatives = append(out.Alternatives, p)
		}
	}
	if len(out.Alternatives) > 0 {
		out.Exchanged, out.Alternatives = out.Alternatives[:1:1], out.Alternatives[1:]
	} else {
		out.Exchanged = exchangedPairs(best)
	}
	return out
}

// onePort returns the pairs of pulses that come together, though their cylinders fire apart.
func onePort(pulses, firing []float64) (pairs [][2]int) {
	apart := func(of []float64, a, b int) float64 { return math.Abs(math.Remainder(of[a]-of[b], 720)) }
	for a := range pulses {
		for b := a + 1; b < len(pulses); b++ {
			if apart(pulses, a, b) < maxTogether && apart(firing, a, b) > minFiringApart {
				pairs = append(pairs, [2]int{a + 1, b + 1})
			}
		}
	}
	return pairs
}

// scatter returns how far, rms, pulses lie off the firing angles of the cylinders that
// an order gives them, all being turned by the angle that fits best.
func scatter(pulses, firing []float64, order []int) float64 {
	n := float64(len(pulses))
	var sin, cos float64
	for i, p := range pulses {
		s, c := math.Sincos((p - firing[order[i]]) * math.Pi / 360)
		sin += s
		cos += c
	}
	turn := math.Atan2(sin, cos) * 360 / math.Pi
	sum := 0.0
	for i, p := range pulses {
		d := math.Remainder(p-firing[order[i]]-turn, 720)
		sum += d * d
	}
	return math.Sqrt(sum / n)
}

// sameOrders reports whether two orders give the same pulses.
func sameOrders(firing []float64, a, b []int) bool {
	var pulses [bank.MaxCylinders]float64
	for i, c := range a {
		pulses[i] = firing[c]
	}
	return scatter(pulses[:len(a)], firing, b) < sameOrderOff
}

// countMoved counts the hoses that an order moves.
func countMoved(order []int) (n int) {
	for i, c := range order {
		if i != c {
			n++
		}
	}
	return n
}

// exchangedPair returns the two cylinders of an order that exchanges just them.
func exchangedPair(order []int) ([2]int, bool) {
	if countMoved(order) != 2 {
		return [2]int{}, false
	}
	return exchangedPairs(order)[0], true
}

// exchangedPairs returns the pairs that an order exchanges.
func exchangedPairs(order []int) (out [][2]int) {
	for i, c := range order {
		if c > i && order[c] == i {
			out = append(out, [2]int{i + 1, c + 1})
		}
	}
	return out
}

// ordersOf gives all orders of so many cylinders, the straight one first. They are
// worked out once.
var ordersOf = func() (of [bank.MaxCylinders + 1]func() [][]int) {
	var straight []int
	for n := range of {
		cylinders := straight
		of[n] = sync.OnceValue(func() [][]int { return permutations(cylinders) })
		straight = append(slices.Clone(straight), n)
	}
	return of
}()

// permutations returns all orders of some cylinders, the given one first.
func permutations(of []int) [][]int {
	if len(of) <= 1 {
		return [][]int{slices.Clone(of)}
	}
	var out [][]int
	for i := range of {
		rest := slices.Delete(slices.Clone(of), i, i+1)
		for _, p := range permutations(rest) {
			out = append(out, append([]int{of[i]}, p...))
		}
	}
	return out
}
