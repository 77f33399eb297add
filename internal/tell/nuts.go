package tell

import (
	"strings"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/plain"
)

// NutsUnconfirmed are the names of the screws that were turned and whose lock nuts nobody has said to be tight, by a
// reading, which may be nil. With seen, a nut that is tight by what was seen counts as said to be.
func NutsUnconfirmed(r *balance.Reading, b *bank.Bank, seen bool) []string {
	if r == nil || b.NoLockNuts {
		return nil
	}
	bits := r.Loose
	if !seen {
		bits |= r.NutsUnsaid
	}
	return b.ScrewNames(bits)
}

// NutsWords say which lock nuts are not confirmed tight, "" where all are.
func NutsWords(screws []string) string {
	if len(screws) == 0 {
		return ""
	}
	return plain.Text("lock nut of " + strings.Join(screws, ", of ") + " not confirmed tight")
}
