package session

import (
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// zeroing is the zero pass that runs beside the readings.
type zeroing struct {
	wanted bool // begins with the first frame
	pass   *sensor.ZeroPass
	result *sensor.Zero
	err    error
}

// ZeroState tells how a zero pass goes.
type ZeroState struct {
	// Running is set while a pass watches; Progress is then from 0 to 1.
	Running  bool
	Progress float64
	// Result is that of the last pass of this run, nil if there was none or
	// it was refused for the reason Err.
	Result *sensor.Zero
	Err    error
	// Zeroed is set when the offsets in force come from a zero pass.
	Zeroed bool
}

// StartZero begins a zero pass: the engine must be off. It reports whether the pass has
// begun; before a board has sent a frame it begins with the first.
func (c *Chain) StartZero() (begun bool) {
	if c.board == nil {
		c.zero = zeroing{wanted: true}
		return false
	}
	c.zero = zeroing{pass: sensor.NewZeroPass(c.cfg.Setup, c.board.Channels, c.cfg.knownAmbient())}
	return true
}

// knownAmbient is the air pressure that was given, 0 where none was.
func (cfg *Config) knownAmbient() pressure.KPa {
	if cfg.KnownAmbient == 0 && cfg.AmbientFrom == FromUser {
		return cfg.Ambient
	}
	return cfg.KnownAmbient
}

// ZeroState returns how a zero pass goes.
func (c *Chain) ZeroState() ZeroState {
	z := ZeroState{Result: c.zero.result, Err: c.zero.err, Zeroed: c.cfg.Zeroed}
	if c.zero.pass != nil {
		z.Running, z.Progress = true, c.zero.pass.Progress()
	}
	return z
}

// pushZero gives the pass a sample with the offsets and gains in force put back.
func (c *Chain) pushZero(s *sensor.Sample) {
	raw := *s
	for i := range s.N {
		raw.Absolute[i] = c.cfg.Setup.Uncorrected(i, s.Absolute[i])
	}
	if !c.zero.pass.Push(&raw) {
		return
	}
	c.EndZero()
}

// EndZero ends a running pass, or one that has yet to begin: its result is taken, or the
// reason why there is none. A refused pass leaves the offsets in force alone.
func (c *Chain) EndZero() {
	c.zero.wanted = false
	if c.zero.pass == nil {
		return
	}
	result, err := c.zero.pass.Result()
	c.zero.pass = nil
	if err != nil {
		c.zero.err = err
		return
	}
	c.zero.result = &result
	c.cfg.Setup.Offsets = result.Offsets
	switch {
	case c.cfg.knownAmbient() != 0:
		c.cfg.AmbientFrom = FromUser
	case result.Measured:
		c.cfg.AmbientFrom = FromZeroPass
	}
	c.cfg.Setup.Ambient = result.Ambient
	c.cfg.Ambient = result.Ambient
	c.cfg.Zeroed, c.cfg.ZeroUncertainty = true, result.Uncertainty
	c.conv.SetSetup(c.cfg.Setup, c.board)
	c.tracker.SetAmbient(result.Ambient)
	c.bal.SetAmbient(result.Ambient)
	c.watchDrift()
}

// watchDrift begins to watch for drift from the zero in force.
func (c *Chain) watchDrift() {
	c.drift = sensor.NewDriftWatch(c.bank.Channels, c.cfg.Ambient)
}

// Drift returns by how much the sensors were last seen to have moved since the zero pass, the engine
// being off; without a zero pass nothing is seen.
func (c *Chain) Drift() sensor.Drift {
	if !c.cfg.Zeroed {
		return sensor.Drift{}
	}
	return c.drift.Drift()
}
