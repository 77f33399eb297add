package practice

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/probe"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// What a hand can do to a bike as its pilot screws are trimmed, as it is looked at at a raised speed, and as an air
// leak is looked for.
const (
	TrimHands = typeIt + `
  2 out 1/4     pilot screw 2, a quarter turn out (in, out)` + stopAndGrip + `
Enter alone says that the turn is made, made 1/2 that another amount was: it turns nothing. q leaves.`
	RaisedHands = typeIt + stopAndGrip + "\nq leaves."
	LeakHands   = typeIt + "\n  wet 3         the joint of cylinder 3 is wet for 4 s" + key + "\nq leaves."

	typeIt      = "Practice: type what the hand does, and Enter:"
	stopAndGrip = `
  idle + 1/8    throttle stop, an eighth clockwise (+, -)
  hold 3000     the twist grip; hold 0 lets it go` + key
	key = `
  engine off    stops it; engine on starts it`
)

// Of the practice engine as the mixture is trimmed: an idling, warm, levelled bank whose
// pilot screws stand up to half a turn off.
const (
	mixturePilotsOff              = 0.5
	mixtureUneven    pressure.KPa = 0.5
)

// Mixture makes a practice bike one whose mixture is to be trimmed: warm, idling, level.
type Mixture struct {
	Air      bool // air screws, which give a leaner mixture outwards
	Lambda   bool // a lambda probe
	LambdaOf int  // the cylinder in whose exhaust it is; 0 is that of all
}

// apply sets up the engine.
func (m *Mixture) apply(cfg *engine.Config, fresh bool) {
	cfg.Running, cfg.NoSensorErrors, cfg.AirScrews = true, true, m.Air
	cfg.PilotsOff = cmp.Or(cfg.PilotsOff, mixturePilotsOff)
	if fresh {
		cfg.Uneven = mixtureUneven
	}
	if m.Lambda {
		cfg.Lambda, cfg.LambdaOf = true, m.LambdaOf
	}
}

// config is the chain's.
func (m *Mixture) config(b bank.Bank) session.Config {
	cfg := session.Config{Bank: &b, Reference: 1, Zeroed: true, Ambient: engine.DefaultAmbient,
		AmbientFrom: session.FromUser}
	cfg.Setup.Ambient = cfg.Ambient
	if m.Lambda {
		const lowV, highV, low, high = 0, 5, 0.5, 1.5 // the practice engine's controller
		cfg.Lambda = &session.LambdaConfig{Channel: b.Cylinders, Of: m.LambdaOf, StoichAFR: garage.DefaultStoichAFR,
			Probe: probe.Probe{LowV: lowV, HighV: highV, LowLambda: low, HighLambda: high}}
	}
	return cfg
}

// Counted is where the pilot screws stood at first as they would be counted in, to an eighth, in turns out.
func (p *Bike) Counted() []float64 { return countedIn(p.pilots) }

// countedIn rounds turns out to what an eye counts, eighths.
func countedIn(turns []float64) (out []float64) {
	for _, v := range turns {
		out = append(out, math.Round(8*v)/8)
	}
	return out
}

// Truth tells how near the true best the pilot screws have come.
func (p *Bike) Truth(s *mixture.TrimState) string {
	var parts []string
	for i, c := range p.Engine.Truth().Cylinders {
		if i < s.Cylinders {
			parts = append(parts, fmt.Sprintf("%d: %+.2f", i+1, c.PilotOut-c.PilotBest))
		}
	}
	return "practice: turns from the true best: " + strings.Join(parts, ", ")
}

// DoLine does what a typed line says; its error says by hands what can be typed.
func (p *Bike) DoLine(line, hands string) error {
	words := strings.Fields(line)
	odd := fmt.Errorf("%q is not understood.\n%s", line, hands)
	none := func(cylinder int) error {
		return fmt.Errorf("there is no cylinder %d: they are 1 to %d", cylinder, p.Bank.Cylinders)
	}
	switch line {
	case "engine on":
		p.Engine.Start()
		return nil
	case "engine off":
		p.Engine.Stop()
		return nil
	}
	if len(words) == 2 {
		figure, err := strconv.ParseFloat(words[1], 64)
		switch {
		case err == nil && words[0] == "hold":
			p.Engine.HoldAt(figure)
			return nil
		case err == nil && words[0] == "wet":
			c := int(figure)
			if c < 1 || c > p.Bank.Cylinders {
				return none(c)
			}
			p.Do(view.Want{Kind: view.WetJoint, Cylinder: c})
			return nil
		}
		return odd
	}
	if len(words) < 3 {
		return odd
	}
	turns, err := garage.ParseTurns(strings.Join(words[2:], " "))
	if err != nil {
		return err
	}
	cylinder, err := strconv.Atoi(words[0])
	switch way := words[1]; {
	case words[0] == "idle" && (way == "+" || way == "-"):
		if way == "-" {
			turns = -turns
		}
		p.Engine.TurnStop(turns)
	case err == nil && cylinder >= 1 && cylinder <= len(p.pilots) && (way == "in" || way == "out"):
		if way == "out" {
			turns = -turns
		}
		p.Engine.TurnPilot(cylinder, turns)
	case err == nil && (way == "in" || way == "out"):
		return none(cylinder)
	default:
		return odd
	}
	return nil
}
