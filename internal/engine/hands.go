package engine

// Turn turns the synchronising screw with that index in Bank.Screws, clockwise
// positive; turns not yet made are added to. A hand makes half a turn a second. The
// screw ends ScrewTravel either way of its start. An index out of range does nothing.
func (e *Engine) Turn(screw int, turns float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if screw >= 0 && screw < len(e.linkage.screws) && e.linkage.screws[screw].turn(turns) {
		e.score.moves++
	}
}

// TurnStop turns the throttle stop; clockwise, positive, opens all butterflies.
// Speed as Turn, limit StopTravel.
func (e *Engine) TurnStop(turns float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.linkage.stop.turn(turns) {
		e.score.moves++
	}
}

// TurnPilot turns the pilot screw of a cylinder, counted from 1, clockwise positive,
// that is inwards. Speed as Turn; it goes from seated to PilotTravel turns out. A
// cylinder out of range does nothing.
func (e *Engine) TurnPilot(cylinder int, turns float64) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n && e.pilots.turn(cylinder-1, turns) {
		e.score.moves++
	}
}

// LockNut tightens the lock nut of the synchronising screw with that index, which shifts
// its setting a little by chance: see Config.LockNutTurns.
func (e *Engine) LockNut(screw int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if screw >= 0 && screw < len(e.linkage.screws) {
		e.linkage.lockNut(screw, e.config.LockNutTurns, e.hand)
	}
}

// FailSensor makes the sensor of a cylinder, counted from 1, fail in that way from now on;
// SensorSound mends it.
func (e *Engine) FailSensor(cylinder int, fault SensorFault) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.channel[cylinder-1].fault = fault
	}
}

// PullLead pulls the lead off the spark plug of a cylinder, counted from 1: none of its charges burns from now on,
// until that is mended.
func (e *Engine) PullLead(cylinder int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder < 1 || cylinder > e.n {
		return
	}
	defects := make([]Defect, e.n) // not the caller's
	copy(defects, e.config.Defects)
	defects[cylinder-1].Misfire = 1
	e.config.Defects = defects
}

// Start switches the ignition on and, unless the engine runs, turns the starter
// until it does or five seconds have passed.
func (e *Engine) Start() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.crank.ignition = true
	if !e.crank.running() {
		e.crank.starterS = maxStarterS
	}
}

// Stop switches the ignition off; the engine comes to rest by itself.
func (e *Engine) Stop() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.crank.ignition = false
	e.crank.starterS = 0
}

// Fan says whether a fan blows on the engine: see Truth.HeatS.
func (e *Engine) Fan(on bool) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.score.fan = on
}

// Blip opens the throttle for about a second.
func (e *Engine) Blip() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.linkage.blipS = blipS
}

// score counts what a session on the engine costs.
type score struct {
	idlingS float64
	heatS   float64
	fan     bool
	moves   int
}

// What a second of standing takes off the clock of the heat, in still air and with a fan. Chosen.
const coolPace, fanPace = 0.5, 1.0

func (s *score) count(h float64, running bool) {
	switch {
	case running:
		s.idlingS += h
		s.heatS += h
	case s.fan:
		s.heatS = max(s.heatS-fanPace*h, 0)
	default:
		s.heatS = max(s.heatS-coolPace*h, 0)
	}
}
