package engine

import "math"

// A hand on the twist grip that holds a speed by ear. Chosen: it is there within a few
// seconds and holds to some per cent.
const (
	// gripPerRPM is how fast the hand turns for each rpm that the speed is off, degrees of
	// plate a second; gripLeadS is by how much it hears ahead where the speed is going.
	gripPerRPM = 1.0 / 400
	gripLeadS  = 0.7
	// maxGripRate is the fastest it turns, degrees of plate a second, maxGripDegrees the
	// farthest it opens.
	maxGripRate    = 6.0
	maxGripDegrees = 40.0
)

// grip is the twist grip and the hand on it.
type grip struct {
	wantRPM float64 // 0: let go
	degrees float64 // by which it opens all plates
	lastRPM float64
}

// follow moves the grip over a time h in s at a speed in rpm, and reports whether it
// moved.
func (g *grip) follow(h, rpm float64) bool {
	rate := (rpm - g.lastRPM) / h
	g.lastRPM = rpm
	before := g.degrees
	turn := -maxGripRate // a spring closes it
	if g.wantRPM > 0 {
		turn = min(max((g.wantRPM-rpm-gripLeadS*rate)*gripPerRPM, -maxGripRate), maxGripRate)
	}
	g.degrees = min(max(g.degrees+h*turn, 0), maxGripDegrees)
	return g.degrees != before
}

// HoldAt has the rider hold the engine at about rpm by the twist grip; 0 lets it go.
func (e *Engine) HoldAt(rpm float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.linkage.grip.wantRPM = max(rpm, 0)
	if math.IsNaN(rpm) {
		e.linkage.grip.wantRPM = 0
	}
}

// butterflyArea returns the effective area of the butterfly of cylinder i + 1 in m2; with a
// slide that hangs it follows the grip only in part.
func (e *Engine) butterflyArea(i int) float64 {
	open := e.linkage.area(i, true)
	hangs := at(e.config.Defects, i).SlideHangs
	if hangs == 0 {
		return open
	}
	idle := e.linkage.area(i, false)
	return idle + (1-min(max(hangs, 0), 1))*(open-idle)
}
