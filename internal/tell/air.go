package tell

import (
	"fmt"

	"evendraw/internal/airleak"
)

// AirFound sums up a watch for an air leak that ends.
func AirFound(s *airleak.State) string {
	cylinder := s.Last
	if s.Phase == airleak.Less {
		cylinder = s.Cylinder
	}
	if cylinder == 0 {
		return "No cylinder was seen to get less air: that is no proof that none leaks."
	}
	return fmt.Sprintf("Seen last: cylinder %d got less air, so it leaks where water was put just then. Engine off, "+
		"mend it, look again.", cylinder)
}
