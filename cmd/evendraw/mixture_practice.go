package main

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"strconv"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/bank"
	"evendraw/internal/engine"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

const practiceHands = `Practice: type what the hand does, and Enter:
  2 out 1/4     pilot screw 2, a quarter turn out (in, out)
  idle + 1/8    throttle stop, an eighth clockwise (+, -)
  hold 3000     the twist grip; hold 0 lets it go
Enter alone: the turn is made. q leaves.`

// Of the practice engine as the mixture is trimmed: an idling, warm, levelled bank whose
// pilot screws stand up to half a turn off.
const (
	practicePilotsOff              = 0.5
	practiceUneven    pressure.KPa = 0.5
)

// mixturePractice is the practice engine in the board's place.
type mixturePractice struct {
	engine *engine.Engine
	config session.Config
	start  []float64 // true turns out
	hand   autoHand
}

func newMixturePractice(r *rig, o *mixtureOptions) (*mixturePractice, error) {
	cfg, err := practiceConfig(r, o.practice)
	if err != nil {
		return nil, err
	}
	cfg.Running, cfg.NoSensorErrors, cfg.AirScrews = true, true, o.screws == garage.AirScrews
	if cfg.PilotsOff == 0 {
		cfg.PilotsOff = practicePilotsOff
	}
	if o.practice == freshBike {
		cfg.Uneven = practiceUneven
	}
	if o.lambda || o.target != 0 {
		cfg.Lambda, cfg.LambdaOf = true, o.lambdaOf
	}
	b := cfg.Bank
	p := &mixturePractice{engine: engine.New(cfg), hand: autoHand{random: rand.New(rand.NewPCG(cfg.Seed, 0))}}
	p.config = session.Config{Bank: &b, Reference: 1, Zeroed: true, Ambient: engine.DefaultAmbient, AmbientFrom: session.FromUser}
	p.config.Setup.Ambient = p.config.Ambient
	if cfg.Lambda {
		const lowV, highV, low, high = 0, 5, 0.5, 1.5 // the practice engine's controller
		p.config.Lambda = &session.LambdaConfig{Channel: b.Cylinders, Of: o.lambdaOf, StoichAFR: garage.DefaultStoichAFR,
			Probe: mixture.Probe{LowV: lowV, HighV: highV, LowLambda: low, HighLambda: high}}
	}
	for _, c := range p.engine.Truth().Cylinders {
		p.start = append(p.start, c.PilotOut)
	}
	return p, nil
}

// counted is where the screws stand as they would be counted in, to an eighth.
func (p *mixturePractice) counted() (out []float64) {
	for _, v := range p.start {
		out = append(out, nearestEighth(v))
	}
	return out
}

// truth tells how near the true best the screws have come.
func (p *mixturePractice) truth(s *mixture.TrimState) string {
	var parts []string
	for i, c := range p.engine.Truth().Cylinders {
		if i < s.Cylinders {
			parts = append(parts, fmt.Sprintf("%d: %+.2f", i+1, c.PilotOut-c.PilotBest))
		}
	}
	return "practice: turns from the true best: " + strings.Join(parts, ", ")
}

// source reads the engine a little at a time, so that hands act in between.
func (p *mixturePractice) source(ctx context.Context, t *tuner, watch func()) io.Reader {
	var src io.Reader = p.engine
	if !t.opt.fast {
		src = session.NewPace(ctx, p.engine)
	}
	return &handed{src, func() {
		watch()
		if t.opt.auto {
			p.hand.act(p, t.sess.Snapshot())
		}
	}}
}

// handed calls a function before each read.
type handed struct {
	src    io.Reader
	before func()
}

func (h *handed) Read(b []byte) (int, error) {
	h.before()
	return h.src.Read(b[:min(len(b), 512)])
}

// reactS is how long the virtual mechanic takes from seeing to turning.
const reactS = 1.5

// autoHand is the virtual mechanic at pilot screws, throttle stop and twist grip.
type autoHand struct {
	told   [bank.MaxCylinders]float64
	due    float64
	todo   func()
	random *rand.Rand // how quick it is
	stop   advice.Advice
	held   bool
}

// act does what is due, and takes up what is told.
func (h *autoHand) act(p *mixturePractice, snap *session.Snapshot) {
	now := p.engine.Truth().TimeS
	if h.todo != nil {
		if now >= h.due {
			h.todo()
			h.todo = nil
		}
		return
	}
	later := func(do func()) { h.todo, h.due = do, now+reactS+h.random.Float64()/2 }
	if r := snap.Tune.Raised; r != nil {
		h.grip(p, r)
		return
	}
	t := snap.Tune.Trim
	if t == nil {
		return
	}
	if a := t.Advice; a.Part == advice.ThrottleStop {
		if a.Kind != advice.Turn && a.Kind != advice.Reverse {
			h.stop = advice.Advice{}
		} else if a.Kind != h.stop.Kind || a.Direction != h.stop.Direction {
			h.stop = a
			later(func() { p.engine.TurnStop(signed(&a)) })
		}
		return
	}
	for i := range t.Cylinders {
		if to := t.Pilots[i].Moved; to != h.told[i] {
			h.told[i] = to
			later(func() { p.engine.TurnPilot(i+1, p.engine.Truth().Cylinders[i].PilotOut-(p.start[i]+to)) })
			return
		}
	}
}

// grip holds the raised speed when it is told, and lets go after.
func (h *autoHand) grip(p *mixturePractice, r *mixture.RaisedState) {
	if want := r.Advice.Kind == advice.Turn || r.Advice.Kind == advice.Hold; want != h.held {
		h.held = want
		rpm := 0.0
		if want {
			rpm = r.TargetRPM
		}
		p.engine.HoldAt(rpm)
	}
}

// signed is an advice's amount, clockwise positive.
func signed(a *advice.Advice) float64 {
	if a.Direction == advice.Anticlockwise {
		return -a.Turns
	}
	return a.Turns
}

// do does what a typed line says.
func (p *mixturePractice) do(line string) error {
	words := strings.Fields(line)
	odd := fmt.Errorf("%q is not understood.\n%s", line, practiceHands)
	if len(words) == 2 && words[0] == "hold" {
		rpm, err := strconv.ParseFloat(words[1], 64)
		if err != nil {
			return odd
		}
		p.engine.HoldAt(rpm)
		return nil
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
		p.engine.TurnStop(turns)
	case err == nil && cylinder >= 1 && cylinder <= len(p.start) && (way == "in" || way == "out"):
		if way == "out" {
			turns = -turns
		}
		p.engine.TurnPilot(cylinder, turns)
	default:
		return odd
	}
	return nil
}
