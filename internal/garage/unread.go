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
	switch {
	case u.Damaged == 1:
		parts = append(parts, "one file is damaged")
	case u.Damaged > 1:
		parts = append(parts, fmt.Sprintf("%d files are damaged", u.Damaged))
	}
	switch {
	case u.Denied == 1:
		parts = append(parts, "one file you have no right to read")
	case u.Denied > 1:
		parts = append(parts, fmt.Sprintf("%d files you have no right to read", u.Denied))
	}
	return strings.Join(parts, ", ")
}

// LeftOut is UnreadOf, and says that what was printed or written is without those files.
func LeftOut(errs []*Error) error {
	if len(errs) == 0 {
		return nil
	}
	return fmt.Errorf("not all is there: %w", UnreadOf(errs))
}
