package view

import (
	"evendraw/internal/cycle"
	"evendraw/internal/plain"
	"fmt"
	"time"
)

// sayStep says what the step at hand asks for, and how far it has come.
func (v *View) sayStep(p *Picture) {
	p.Role = Strong
	switch v.Flow.At {
	case StepBike:
		p.Big = "WHICH BIKE"
		p.Say = []string{"Take a bike with the arrows and Enter, or make a card for one."}
	case StepChecks:
		v.sayChecks(p)
	case StepRig:
		v.sayRig(p)
	case StepZero:
		v.sayZeroStep(p)
	case StepWarm:
		v.sayWarm(p)
	case StepHoses:
		v.sayHoses(p)
	case StepIdle:
		v.sayIdle(p)
	case StepPilots:
		v.sayPilots(p)
	case StepRaised:
		v.sayRaised(p)
	case StepKeep:
		v.sayKeep(p)
	}
}

func (v *View) sayChecks(p *Picture) {
	p.Big = "LOOK FIRST"
	if v.openChecks() == 0 && len(v.Checks) > 0 {
		p.Big, p.Role = "ALL SEEN", Good
	}
	if len(v.Checks) > 0 {
		_, text := CheckWords(v.Checks[min(max(v.Cursor, 0), len(v.Checks)-1)])
		p.Say = []string{text}
	}
}

func (v *View) sayRig(p *Picture) {
	p.Big, p.Say = "BOARD", []string{"Looking at what the board sends: rate, losses, every channel."}
	if v.rigGood() {
		p.Big, p.Role, p.Say = "BOARD GOOD", Good,
			[]string{"It sends at its rate, nothing is lost, and no sensor stands at an end."}
		return
	}
	if v.rate.seconds > rigSeconds {
		p.Big, p.Role = "LOOK AT IT", Warn
		p.Say = []string{"The board does not send as it should: see the lines below. n goes on all the same."}
	}
}

func (v *View) sayZeroStep(p *Picture) {
	z := v.zeroState()
	p.Big = "ZERO"
	switch {
	case v.turning():
		p.Big, p.Role = "ENGINE OFF", Warn
		p.Say = []string{"The zero pass needs the engine off.", "Stop it, take the hoses off the ports, then Enter."}
	case z.Err != nil && z.Result == nil:
		p.Role = Warn
		p.Say = []string{Refusal(z.Err), "Put that right, then z takes it again."}
	case z.Result != nil:
		p.Big, p.Role = "ZEROED", Good
		p.Say = []string{fmt.Sprintf("Every sensor's offset is learned; air pressure %.1f kPa. "+
			"Put the hoses on the ports.", float64(z.Result.Ambient))}
	case z.Zeroed:
		p.Say = []string{"The board's card holds a zero pass" + agoText(v.Now, v.Snap.Config.ZeroedAt) +
			": offsets drift with warmth and days.",
			"z takes a new one: engine off, all hoses open to the air. Enter goes on with the old one."}
	default:
		p.Say = []string{"No zero yet: the sensors' own offsets would pass for differences.",
			"Engine off, all hoses open to the air, hands off. Then Enter: five seconds."}
	}
}

// agoText says how long ago something was, "" when that is not known.
func agoText(now, at time.Time) string {
	d := now.Sub(at)
	switch {
	case at.IsZero() || d < 0:
		return ""
	case d < time.Hour:
		return fmt.Sprintf(" of %d minutes ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf(" of %d hours ago", int(d.Hours()))
	}
	return fmt.Sprintf(" of %d days ago", int(d.Hours())/24)
}

func (v *View) sayWarm(p *Picture) {
	if !v.turning() {
		p.Big = "START"
		p.Say = []string{"Hoses on the ports, then start it. Outdoors only: its exhaust is poisonous.",
			"Clear of exhaust, chain and fan; a fan on the engine; hearing protection."}
		return
	}
	p.Big = "WARM UP"
	p.Say = []string{fmt.Sprintf("The speed has been settled for %d of %d s. Choke off.",
		min(int(v.settledFor()), warmSeconds), warmSeconds),
		"Speed is all that can be seen of warmth: go on when the engine is as warm as after a ride."}
	if v.done(StepWarm) {
		p.Big, p.Role = "SETTLED", Good
	}
}

func (v *View) sayHoses(p *Picture) {
	r := v.reading()
	p.Big = "HOSES"
	switch {
	case !v.turning():
		p.Say = []string{"The engine must run to tell which hose is which."}
	case r.Hoses.Verdict == cycle.AsExpected:
		p.Big, p.Role = "HOSES OK", Good
		p.Say = []string{"The pulses come in the firing order." + unseen(r.Hoses.Unseen)}
	case r.Hoses.Verdict == cycle.Exchanged:
		p.Big, p.Role = "HOSES ?", Warn
		p.Say = []string{v.hoses(), "Put them right, or go on with n."}
	default:
		p.Say = []string{"The pulses don't tell, or not yet: look along each hose from port to sensor, " +
			"1 at the seated rider's left.", "Enter when they are right."}
	}
}

// unseen names the exchanges that the pulses can't show.
func unseen(pairs [][2]int) string {
	text := ""
	for i, p := range pairs {
		if i == 0 {
			text = " They can't show a swap of"
		} else {
			text += ", or of"
		}
		text += fmt.Sprintf(" %d and %d", p[0], p[1])
	}
	if text != "" {
		text += ": look."
	}
	return text
}

func (v *View) sayKeep(p *Picture) {
	p.Big = "SAVE"
	p.Say = []string{"Enter or s saves a record of how the bank stands; m adds a remark first.",
		"Stop the engine. Caps back on the ports; tap hose back, tap off PRI; bottle off. The exhaust is hot. " +
			"A lock nut tightened only now moves the setting: look again."}
	if n := len(v.Records); n > v.Flow.records {
		p.Big, p.Role = "SAVED", Good
		p.Say[0] = fmt.Sprintf("Saved: %s. s saves again, f makes an A4 page of it, "+
			"evendraw history lists the records. q leaves.", v.Records[n-1])
	}
	if v.Remark != "" {
		p.Say = append(p.Say, "Remark: "+plain.Text(v.Remark))
	}
}
