package plain

import "testing"

// What stands beside a running clock is the same text all the while; what else changes is not.
func TestWithoutClock(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"It has idled for 6:15 of 5:00.", "It has idled for 16:16 of 5:00.", true},
		{"by 1/4 of a turn", "by 1/2 of a turn", false},
	} {
		if same := WithoutClock(c.a) == WithoutClock(c.b); same != c.same {
			t.Errorf("%q and %q: same %v", c.a, c.b, same)
		}
	}
}
