package trial

import (
	"fmt"
	"math"
	"testing"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/effort"
	"evendraw/internal/engine"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// unattendedS is how long they last, s. What happens in them ends after 40 s: the rest is a bank that comes to rest.
const unattendedS = 60.0

// unattended are recordings in which nobody turns a screw.
func unattended() map[string]story {
	at := func(from, to, every float64, do func(k int) func(b *bench, c *session.Chain)) (list []event) {
		for k := 0; from+float64(k)*every < to; k++ {
			list = append(list, event{from + float64(k)*every, do(k)})
		}
		return list
	}
	stop := func(turns func(k int) float64) func(k int) func(*bench, *session.Chain) {
		return func(k int) func(*bench, *session.Chain) {
			return func(b *bench, _ *session.Chain) { b.engine.TurnStop(turns(k)) }
		}
	}
	// A supply that is not the converter's reference scales a sensor's voltage, which is 0 at 10.6 kPa.
	sag := func(k int) func(*bench, *session.Chain) {
		return func(b *bench, _ *session.Chain) {
			part := 0.03 * (1 - math.Cos(float64(k)*0.1*2*math.Pi/6))
			for c := range b.bank.Cylinders {
				b.engine.SensorErrors(c+1, pressure.KPa(10.6*part), 1-part)
			}
		}
	}
	lumpy := func(c *engine.Config) { c.Lumpy = true }
	silent := func(c *engine.Config) {
		c.Defects = []engine.Defect{{Misfire: 1}, {Misfire: 1}, {Misfire: 1}, {Misfire: 1}}
	}
	crank := func(int) func(*bench, *session.Chain) {
		return func(b *bench, _ *session.Chain) { b.engine.Start() }
	}
	return map[string]story{
		"wander": {bike: four(31, 6), events: at(8, 40, 0.5, stop(func(k int) float64 {
			return 0.11 * math.Cos(float64(k)*0.5*2*math.Pi/8)
		}))},
		"hunting": {bike: four(32, 6), events: at(8, 40, 0.25, stop(func(k int) float64 {
			return 0.2 * math.Cos(float64(k)*0.25*2*math.Pi/2.5)
		}))},
		"blips": {bike: four(33, 6), events: at(8, 40, 6, func(int) func(*bench, *session.Chain) {
			return func(b *bench, _ *session.Chain) { b.engine.Blip() }
		})},
		"hose": {bike: four(34, 6), events: []event{{9, hose(engine.SensorHoseOff)}, {15, hose(engine.SensorSound)},
			{22, hose(engine.SensorHoseOff)}, {23, hose(engine.SensorSound)}}},
		"sweep": {bike: four(35, 6), events: at(8, 40, 0.5, stop(func(k int) float64 {
			return 0.06 * math.Copysign(1, 16-math.Mod(float64(k), 32))
		}))},
		"sag":   {bike: four(39, 6), events: at(8, 40, 0.1, sag)},
		"crank": {bike: but(four(40, 6), silent), events: at(1, 40, 1, crank)},
		"lumpy": {bike: but(four(36, 6), lumpy)},
		"twin":  {bike: but(twin(37, 6), lumpy)},
		"twin-wander": {bike: twin(38, 5), events: at(8, 40, 0.5, stop(func(k int) float64 {
			return 0.11 * math.Cos(float64(k)*0.5*2*math.Pi/8)
		}))},
	}
}

// With nobody at the screws none is seen to be turned, none is learned, and no amount is told.
func TestNobodyTurns(t *testing.T) {
	plain := map[string]bool{"twin-wander": true, "hose": true, "blips": true}
	for name, s := range unattended() {
		seeds := effort.Of([]uint64{0}, []uint64{0, 1})
		if name == "blips" || name == "hose" { // of these what happens comes just behind a cycle's end
			seeds = append(seeds, map[string]uint64{"blips": 34, "hose": 32}[name])
		}
		for _, seed := range seeds {
			t.Run(fmt.Sprint(name, seed), func(t *testing.T) {
				t.Parallel()
				if !effort.Whole() && !plain[name] {
					t.Skip("with EVENDRAW_TEST_ALL=1")
				}
				k := bike{config: s.bike, seed: s.bike.Seed + 100*seed}
				k.config.Seed = k.seed
				k.config.NoSensorErrors = true
				b := newBench(k)
				bk := bank.Bank(s.bike.Bank)
				var c *session.Chain
				told := 0
				c = session.NewChain(session.Config{Bank: &bk, Ambient: 101.3, Zeroed: true}, func(r *balance.Reading) {
					a := &r.Advice
					if a.Why == advice.WhyNoAnswer {
						c.GoOn() // what stands still is told anew
					}
					if seen := a.Kind == advice.Reverse || a.Kind == advice.Stop && a.Why != advice.WhyNoAnswer ||
						a.Why == advice.WhyOtherScrew || a.Why == advice.WhyKeepOn || a.Why == advice.WhyUnlevel ||
						name == "crank" && a.ToTurn(advice.SyncScrew); seen {
						if told++; told < 4 {
							t.Errorf("%.1f s: %s %s screw %s, %.3f turns", r.Time, a.Kind, a.Why, a.ScrewName, a.Turns)
						}
					}
				})
				b.feed = c.Feed
				b.run(settleBefore)
				b.engine.Start()
				b.started = b.now
				events := s.events
				for b.now < b.started+unattendedS {
					b.run(b.now + 0.1)
					for len(events) > 0 && b.now >= b.started+events[0].at {
						events[0].do(b, c)
						events = events[1:]
					}
				}
				for i, e := range c.Effects() {
					if e != 0 {
						t.Errorf("screw %s is held to do %.1f kPa a turn", bk.Screws[i].Name, e)
					}
				}
			})
		}
	}
}
