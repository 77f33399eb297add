package garage

import (
	"fmt"
	"strings"
)

// Unread is the error of a list that leaves files out: so many damaged, or a newer program's, and so many that the
// user has no right to read.
type Unread struct{ Damaged, Denied int }

// CountUnread counts the files that could not be read.
func CountUnread(errs []*Error) (u Unread) {
	for _, e := range errs {
		if e.Denied() {
			u.Denied++
		} else {
			u.Damaged++
		}
	}
	return u
}

// UnreadOf is the count as an error; nil for none.
func UnreadOf(errs []*Error) error {
	if len(errs) == 0 {
		return nil
	}
	u := CountUnread(errs)
	return &u
}

// Error says how many files there are of each kind, in whole sentences without the last stop.
func (u *Unread) Error() string {
	var parts []string
	say := func(n int, one, many string) {
		if n == 1 {
			parts = append(parts, "one file "+one)
		} else if n > 1 {
			parts = append(parts, fmt.Sprintf("%d files %s", n, many))
		}
	}
	say(u.Damaged, "is damaged", "are damaged")
	say(u.Denied, "you have no right to read", "you have no right to read")
	return strings.Join(parts, ", ")
}

// LeftOut is UnreadOf, and says that what was printed or written is without those files.
func LeftOut(errs []*Error) error {
	if len(errs) == 0 {
		return nil
	}
	return fmt.Errorf("not all is there: %w", UnreadOf(errs))
}
