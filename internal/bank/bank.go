package bank

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Most and fewest cylinders of a bank.
const (
	MinCylinders = 2
	MaxCylinders = 4
)

// CycleDegrees is one cycle of a four-stroke engine in degrees of crank.
const CycleDegrees = 720

// Screw is one synchronising screw. Cylinders are numbered from 1, from the rider's left.
type Screw struct {
	// Name says what it sits between, such as "1-2".
	Name string `json:"name"`
	// Moves lists the cylinders whose butterflies it moves.
	Moves []int `json:"moves"`
	// EffectKPaPerTurn is the change in draw of the cylinders it moves per
	// clockwise turn; 0 is unknown. A negative effect lowers their draw.
	EffectKPaPerTurn float64 `json:"effect_kpa_per_turn,omitempty"`
}

// Bank is what the tool must know of the carburettors and the engine.
type Bank struct {
	Cylinders int `json:"cylinders"`
	// Channels gives the board's channel of each cylinder, by cylinder - 1.
	Channels []int `json:"channels"`
	// FiringOrder lists the cylinders as they fire.
	FiringOrder []int `json:"firing_order"`
	// FiringAngles gives when each fires, in degrees of crank after the
	// first, by place in FiringOrder; nil is even firing.
	FiringAngles []float64 `json:"firing_angles,omitempty"`
	// Screws are the synchronising screws, in any order.
	Screws []Screw `json:"screws"`
	// Root is the carburettor that carries the throttle stop.
	Root int `json:"root"`
	// NoLockNuts is set where the synchronising screws have no lock nuts.
	NoLockNuts bool `json:"no_lock_nuts,omitempty"`
}

// Default returns the usual bank of n cylinders, 1 to 4: even firing (a four: 1-2-4-3), channel 0 on cylinder 1 and so
// on. A four has three screws: 1-2 and 3-4 each within an outer pair, and 2-3 between the pairs, which moves cylinders
// 1 and 2. A three has a screw for each outer carburettor, a twin one, one cylinder none. Common practice, no source.
func Default(n int) Bank {
	b := Bank{Cylinders: n, Root: 1}
	for i := range n {
		b.Channels = append(b.Channels, i)
		b.FiringOrder = append(b.FiringOrder, i+1)
	}
	switch n {
	case 2:
		b.Screws = []Screw{{Name: "1-2", Moves: []int{2}}}
	case 3:
		b.Root = 2
		b.Screws = []Screw{{Name: "1-2", Moves: []int{1}}, {Name: "2-3", Moves: []int{3}}}
	case 4:
		b.Root = 3
		b.FiringOrder = []int{1, 2, 4, 3}
		b.Screws = []Screw{{Name: "1-2", Moves: []int{1}}, {Name: "3-4", Moves: []int{4}},
			{Name: "2-3", Moves: []int{1, 2}}}
	}
	return b
}

// FiringAngle returns when a cylinder fires, in degrees of crank after the first of FiringOrder, 0 to below 720.
func (b *Bank) FiringAngle(cylinder int) float64 {
	i := slices.Index(b.FiringOrder, cylinder)
	if b.FiringAngles != nil {
		return b.FiringAngles[i]
	}
	return CycleDegrees / float64(b.Cylinders) * float64(i)
}

// Moves reports whether the screw with index s moves the cylinder.
func (b *Bank) Moves(s, cylinder int) bool {
	return slices.Contains(b.Screws[s].Moves, cylinder)
}

// AllScrews are all screws of a bank, as bits by index.
const AllScrews = ^uint(0)

// ScrewNames are the names of those screws, given as bits by index.
func (b *Bank) ScrewNames(those uint) (names []string) {
	for s, screw := range b.Screws {
		if those>>s&1 == 1 {
			names = append(names, screw.Name)
		}
	}
	return names
}

// RootOf is the carburettor that carries the throttle stop: the one that no screw moves, 0 where that is not one.
func RootOf(cylinders int, screws []Screw) (root int) {
	for c := 1; c <= cylinders; c++ {
		switch moved := slices.ContainsFunc(screws, func(s Screw) bool { return slices.Contains(s.Moves, c) }); {
		case moved:
		case root != 0:
			return 0
		default:
			root = c
		}
	}
	return root
}

// Beside returns, of the screw with index s that moves one cylinder alone, that cylinder, the one that another screw
// moves together with it, and that screw's name; ok is false where there is none.
func (b *Bank) Beside(s int) (own, beside int, then string, ok bool) {
	if s < 0 || s >= len(b.Screws) || len(b.Screws[s].Moves) != 1 {
		return 0, 0, "", false
	}
	own = b.Screws[s].Moves[0]
	for other := range b.Screws {
		if m := b.Screws[other].Moves; len(m) == 2 && b.Moves(other, own) {
			return own, m[0] + m[1] - own, b.Screws[other].Name, true
		}
	}
	return own, 0, "", false
}

// SameScrews reports whether two banks have the same cylinders and screws, so that records of them belong together.
func (b *Bank) SameScrews(other *Bank) bool {
	return b.Cylinders == other.Cylinders && slices.EqualFunc(b.Screws, other.Screws, func(x, y Screw) bool {
		return x.Name == y.Name && slices.Equal(x.Moves, y.Moves)
	})
}

// FieldError names the field of a bank that does not make sense.
type FieldError struct{ Field, Problem string }

func (e *FieldError) Error() string { return fmt.Sprintf("%s: %s", e.Field, e.Problem) }

func wrong(field, format string, args ...any) error {
	return &FieldError{field, fmt.Sprintf(format, args...)}
}

// Check returns a FieldError for the first field that does not make sense, nil for a
// sound bank of two to four cylinders.
func (b *Bank) Check() error {
	if b.Cylinders < MinCylinders || b.Cylinders > MaxCylinders {
		return wrong("cylinders", "%d is not from %d to %d", b.Cylinders, MinCylinders, MaxCylinders)
	}
	if err := b.checkChannels(); err != nil {
		return err
	}
	if err := b.checkFiring(); err != nil {
		return err
	}
	if !b.has(b.Root) {
		return wrong("root", "there is no cylinder %d", b.Root)
	}
	return b.checkLinkage()
}

func (b *Bank) has(cylinder int) bool { return cylinder >= 1 && cylinder <= b.Cylinders }

func (b *Bank) checkChannels() error {
	if len(b.Channels) != b.Cylinders {
		return wrong("channels", "%d channels for %d cylinders", len(b.Channels), b.Cylinders)
	}
	for i, c := range b.Channels {
		if c < 0 || c > 7 {
			return wrong("channels", "channel %d is not from 0 to 7", c)
		}
		if slices.Contains(b.Channels[:i], c) {
			return wrong("channels", "channel %d is used twice", c)
		}
	}
	return nil
}

func (b *Bank) checkFiring() error {
	if len(b.FiringOrder) != b.Cylinders {
		return wrong("firing_order", "names %d of %d cylinders", len(b.FiringOrder), b.Cylinders)
	}
	for i, c := range b.FiringOrder {
		if !b.has(c) {
			return wrong("firing_order", "there is no cylinder %d", c)
		}
		if slices.Contains(b.FiringOrder[:i], c) {
			return wrong("firing_order", "cylinder %d is named twice", c)
		}
	}
	if b.FiringAngles == nil {
		return nil
	}
	if len(b.FiringAngles) != b.Cylinders {
		return wrong("firing_angles", "%s", b.anglesWanted())
	}
	for i, a := range b.FiringAngles {
		switch {
		case i == 0 && a != 0:
			return wrong("firing_angles", "the first is %g, not 0", a)
		case i > 0 && !(a > b.FiringAngles[i-1]) || !(a < CycleDegrees):
			return wrong("firing_angles", "%g is not above the one before it and below %d", a, CycleDegrees)
		}
	}
	return nil
}

// anglesWanted says how many firing angles there are to be, with an example: an angle alone is that of the second.
func (b *Bank) anglesWanted() string {
	n := map[int]string{2: "two", 3: "three", 4: "four"}[b.Cylinders]
	example := []string{"0"}
	for i := 1; i < b.Cylinders; i++ {
		example = append(example, strconv.Itoa(i*CycleDegrees/b.Cylinders))
	}
	if a := b.FiringAngles; len(a) == 1 && a[0] > 0 && a[0] < CycleDegrees && b.Cylinders == 2 {
		example[1] = strconv.FormatFloat(a[0], 'g', -1, 64)
	}
	return fmt.Sprintf("%s angles for %s cylinders, in the order of firing, as %s", n, n, strings.Join(example, ","))
}

// checkLinkage makes sure that the screws can bring all cylinders level, and in one way only.
func (b *Bank) checkLinkage() error {
	for i, s := range b.Screws {
		field := fmt.Sprintf("screws[%d] %q", i, s.Name)
		if s.Name == "" {
			return wrong(field, "has no name")
		}
		if slices.ContainsFunc(b.Screws[:i], func(o Screw) bool { return o.Name == s.Name }) {
			return wrong(field, "the name is used twice")
		}
		if len(s.Moves) == 0 {
			return wrong(field, "moves no cylinder")
		}
		for j, c := range s.Moves {
			if !b.has(c) {
				return wrong(field, "there is no cylinder %d", c)
			}
			if slices.Contains(s.Moves[:j], c) {
				return wrong(field, "moves cylinder %d twice", c)
			}
		}
		if len(s.Moves) == b.Cylinders {
			return wrong(field, "moves all cylinders: that is the throttle stop, not a synchronising screw")
		}
		if math.IsNaN(s.EffectKPaPerTurn) || math.Abs(s.EffectKPaPerTurn) > MaxEffectKPaPerTurn {
			return wrong(field, "effect %g kPa per turn is not within ±%g", s.EffectKPaPerTurn,
				float64(MaxEffectKPaPerTurn))
		}
	}
	want := b.Cylinders - 1
	if len(b.Screws) != want {
		return wrong("screws", "there are %d, and %d cylinders need %d", len(b.Screws), b.Cylinders, want)
	}
	if determinant(b.linkage()) == 0 {
		return wrong("screws", "singular linkage: two sets of screws move the same cylinders, so some can't be "+
			"brought level")
	}
	return nil
}

// MaxEffectKPaPerTurn bounds the effect of a screw. Chosen: ten times what a lively screw does.
const MaxEffectKPaPerTurn = 100

// linkage returns the matrix with a row per cylinder, a column per screw, and a last column of ones for the throttle
// stop, which moves all. It is square, and regular where the screws can bring the cylinders level.
func (b *Bank) linkage() [][]int {
	m := make([][]int, b.Cylinders)
	for c := range m {
		m[c] = slices.Repeat([]int{1}, b.Cylinders)
		for s := range b.Screws {
			if !b.Moves(s, c+1) {
				m[c][s] = 0
			}
		}
	}
	return m
}

// determinant expands a small square matrix along its first row.
func determinant(m [][]int) (sum int) {
	if len(m) == 0 {
		return 1
	}
	sign := 1
	for c, v := range m[0] {
		var minor [][]int
		for _, row := range m[1:] {
			minor = append(minor, slices.Concat(row[:c], row[c+1:]))
		}
		sum += sign * v * determinant(minor)
		sign = -sign
	}
	return sum
}
