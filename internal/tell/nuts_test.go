package tell

import (
	"strings"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/garage"
	"evendraw/internal/pressure"
)

// A record says which lock nuts were not confirmed tight; of a bank that has none nothing is said.
func TestNutsUnconfirmed(t *testing.T) {
	t.Parallel()
	b := bank.Default(4)
	r := &balance.Reading{Loose: 1, NutsUnsaid: 4}
	names := NutsUnconfirmed(r, &b, false)
	s := garage.StoredSync{Kept: garage.SyncRecord{NutsUnconfirmed: names}}
	if text := strings.Join(recordLines(&s, pressure.Kilopascal), "\n"); !strings.Contains(text,
		"  Lock nuts: lock nut of 1-2, of 2-3 not confirmed tight\n") {
		t.Errorf("%v: %s", names, text)
	}
	if names := NutsUnconfirmed(nil, &b, false); names != nil {
		t.Errorf("before a reading: %v", names)
	}
	b.NoLockNuts, r.Loose = true, ^uint(0)
	if names := NutsUnconfirmed(r, &b, false); NutsWords(names) != "" {
		t.Errorf("without lock nuts: %v", names)
	}
}
