package pilotwords

import (
	"fmt"
	"math"

	"evendraw/internal/mixture"
	"evendraw/internal/plain"
)

// OtherAmount is how another amount is told by a key.
const OtherAmount = "Turned by another amount, or not at all? Press c."

// HandsOff says what is read while no screw may be turned: a setting, the speed from which a screw is trimmed anew, or,
// behind the last screw, the speed that all were set to.
func HandsOff(s *mixture.TrimState) []string {
	switch {
	case s.Anew:
		return []string{"Its last turn seems not made as said. Hands off: the speed is read anew from where it stands."}
	case s.Advice.Cylinder == 0:
		return []string{"Hands off: the speed is read once more, with all of them set.", OtherAmount}
	}
	return []string{fmt.Sprintf("Pilot screw %d: hands off while the speed settles and is read.", s.Advice.Cylinder),
		OtherAmount}
}

// Takes says how long so many screws will take, by those of the job that are done.
func Takes(screws int, job []mixture.Pilot) string {
	least, most := mixture.Takes(screws, job)
	const step = 5.0 // s: no second of it is known
	clock := func(s float64) string { return plain.Clock(step * math.Round(s/step)) }
	return fmt.Sprintf("%s to do: %s to %s of idling, nine times of ten.", plain.Count(screws, "screw"), clock(least),
		clock(most))
}
