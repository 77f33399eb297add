package tell

import (
	"fmt"
	"math"

	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// DriftNote asks for a new zero pass where the sensors were seen to have moved, the engine being off; "" where
// nothing is to be asked.
func DriftNote(s *session.Snapshot) string {
	d := &s.Drift
	own := d.Own[d.Channel]
	switch {
	case !d.Asks:
		return ""
	case math.Abs(float64(own)) >= math.Abs(float64(d.Common)):
		return fmt.Sprintf("The sensor of channel %d has drifted by %s kPa since the zero. Engine off, "+
			"hoses off the ports: zero again (z).",
			d.Channel, pressure.Kilopascal.FormatSigned(own))
	}
	return fmt.Sprintf("All sensors have drifted by %s kPa since the zero: weather or heat. Engine off, "+
		"hoses off the ports: zero again (z).",
		pressure.Kilopascal.FormatSigned(d.Common))
}

// WarmNote asks for a new zero pass after so many minutes of a running engine.
func WarmNote(minutes float64) string {
	return fmt.Sprintf("The engine has run for %.0f minutes since the zero, and the sensors have warmed. "+
		"At the next stop, hoses off the ports: zero again (z).", minutes)
}
