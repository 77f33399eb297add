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
	leaks := "perhaps it leaks"
	if s.Again {
		leaks = "twice: it leaks"
	}
	return fmt.Sprintf("Seen last: cylinder %d got less air, %s where water was put just then. Engine off, "+
		"look there, mend it, look again.", cylinder, leaks)
}
