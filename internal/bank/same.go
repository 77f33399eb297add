package bank

import "slices"

// SameScrews reports whether two banks have the same cylinders and screws, so that records of them belong together.
func (b *Bank) SameScrews(other *Bank) bool {
	return b.Cylinders == other.Cylinders && slices.EqualFunc(b.Screws, other.Screws, func(x, y Screw) bool {
		return x.Name == y.Name && slices.Equal(x.Moves, y.Moves)
	})
}
