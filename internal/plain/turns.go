package plain

import (
	"fmt"
	"math"
)

// Fraction writes an amount of turns as people count them, "1 1/4", to a sixty-fourth; "" when it is not known.
func Fraction(turns float64) string {
	if math.IsNaN(turns) {
		return ""
	}
	n, parts := int(math.Round(math.Abs(turns)*64)), 64
	whole := n / parts
	for n %= parts; n != 0 && n%2 == 0; {
		n, parts = n/2, parts/2
	}
	switch {
	case n == 0:
		return fmt.Sprint(whole)
	case whole == 0:
		return fmt.Sprintf("%d/%d", n, parts)
	}
	return fmt.Sprintf("%d %d/%d", whole, n, parts)
}

// TurnsOf writes an amount of turns with its noun.
func TurnsOf(turns float64) string {
	f := Fraction(turns)
	switch {
	case f == "1":
		return "one turn"
	case turns < 1:
		return f + " of a turn"
	}
	return f + " turns"
}

// Hair is a turn that a hand can hardly measure. Chosen.
const Hair = 1.0 / 16

// HairWord is what stands for less than that in large letters.
const HairWord = "HAIR"

// Large writes an amount of turns in large letters: HairWord below Hair, else as Fraction.
func Large(turns float64) string {
	if turns < Hair {
		return HairWord
	}
	return Fraction(turns)
}

// Amount writes how far to turn as part of a sentence.
func Amount(turns float64) string {
	switch {
	case math.IsNaN(turns):
		return "until told to stop"
	case math.Abs(turns) < Hair:
		return "by a hair (less than 1/16 of a turn)"
	}
	return "by " + TurnsOf(math.Abs(turns))
}

// netStep is the step of net turns that is told. Chosen: as sure as they are seen.
const netStep = 1.0 / 16

// RoundNet returns the net turns of a screw as they are told everywhere, clockwise positive; NaN stays.
func RoundNet(turns float64) float64 { return math.Round(turns/netStep) * netStep }
