package tell

import (
	"fmt"
	"math"
	"strings"

	"evendraw/internal/advice"
	"evendraw/internal/garage"
	"evendraw/internal/mixture"
	"evendraw/internal/pilotwords"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/suspects"
	"evendraw/internal/turnwords"
)

// PilotLines say how the trim of each pilot screw ended; what is left in a trial position is among the doubts.
func PilotLines(r *garage.SyncRecord) (lines []string) {
	for i := range r.Pilots {
		k := &r.Pilots[i]
		if k.InTrial() {
			continue
		}
		p := mixture.NewPilot(k.Cylinder, float64(k.StartTurnsOut))
		p.Found, p.Moved = mixture.Found(k.Found), k.MovedTurns
		p.Best, p.Uncertainty = float64(k.BestTurns), float64(k.UncertaintyTurns)
		text := pilotwords.Result(&p)
		if p.Found == mixture.Unsure { // the record does not hold why
			text = fmt.Sprintf("Pilot screw %d: left at a guess, %s; how sure is not known", k.Cylinder,
				pilotwords.Setting(&p, p.Moved))
		}
		lines = append(lines, "p"+strings.TrimSuffix(text[1:], "."))
	}
	return lines
}

// TurnedLines say how far each screw was turned in all, as far as was seen, and which were turned without that; nil of
// records that don't hold it.
func TurnedLines(r *garage.SyncRecord) (lines []string) {
	known := map[string]bool{}
	for _, e := range r.Effects {
		n := plain.RoundNet(float64(e.NetTurns))
		if known[e.Screw] = !math.IsNaN(n); math.Abs(n) > 0 {
			lines = append(lines, fmt.Sprintf("screw %s: about %s %s in all", plain.Text(e.Screw),
				plain.TurnsOf(math.Abs(n)), advice.WayOf(n)))
		}
	}
	for _, s := range r.Steps {
		if s.Screw != "" && !known[s.Screw] {
			known[s.Screw] = true
			lines = append(lines, fmt.Sprintf("screw %s: turned; how far in all is not sure", plain.Text(s.Screw)))
		}
	}
	return lines
}

// Doubts say what speaks against a record's bank, pressures in u.
func Doubts(r *garage.SyncRecord, u pressure.Unit) (list []string) {
	if r.After != nil {
		for _, c := range r.After.Cylinders {
			if text := suspects.Doubts[advice.Why(c.Doubt)]; text != "" {
				list = append(list, fmt.Sprintf("cylinder %d: %s", c.Cylinder, text))
			}
		}
	}
	if r.Halts != nil {
		for _, note := range suspects.Halts(r.Halts.FarTurned, r.Halts.IdleFell, r.Halts.LowDraw) {
			list = append(list, plain.Text(note))
		}
		list = append(list, turnwords.Play(pressure.KPa(r.Halts.PlayKPa), u)...)
	}
	for i := range r.Pilots {
		p := &r.Pilots[i]
		if p.OpenTurns != 0 {
			list = append(list, fmt.Sprintf("pilot screw %d: whether its last turn was made is not known; if it was, "+
				"undo it first: %s", p.Cylinder, garage.WayBack(p.OpenTurns)))
		}
		if !p.InTrial() {
			continue
		}
		now := ""
		if out := float64(p.StartTurnsOut) + p.MovedTurns; !math.IsNaN(out) {
			now = ", " + garage.FormatTurns(out) + " turns out"
		}
		list = append(list, fmt.Sprintf("pilot screw %d stands in a trial position%s: go on with its trim, or turn it "+
			"back %s", p.Cylinder, now, garage.WayBack(p.MovedTurns)))
	}
	return list
}
