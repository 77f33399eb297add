package view

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evendraw/internal/cycle"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
)

// Waves is one cycle of all cylinders against the crank's angle.
type Waves struct {
	Strips []Strip
	// Marks are places along the strips, with what stands there.
	Marks []WaveMark
	Say   string
}

// Strip is one cylinder's cycle, from its start to its end: 0 is the bottom of the strip, 1 its top.
type Strip struct {
	Label      string
	Mean, Live []float64
	Fault      string
}

// WaveMark is a place along the strips, 0 to 1, and its text.
type WaveMark struct {
	At   float64
	Text string
}

// waveRange are the ends that a strip's scale can have, kPa absolute, from the lowest.
var waveRange = []pressure.KPa{0, 20, 40, 60}

// leadPoints is how much of the cycle stands before the first dip: 90 degrees.
const leadPoints = session.WavePoints / 8

// waves returns the last cycle, nil when there is none to show.
func (v *View) waves(blank bool) *Waves {
	w := &Waves{Say: "No cycle to show: the engine must turn steadily."}
	if v.snap().Wave == nil || blank {
		return w
	}
	wave, b := v.Snap.Wave, &v.Snap.Bank
	first := b.FiringOrder[0]
	low, high := math.Inf(1), float64(v.Snap.Config.Ambient)
	for c := range wave.N {
		for i := range session.WavePoints {
			low = min(low, float64(wave.Live[c][i]), float64(wave.Mean[c][i]))
			high = max(high, float64(wave.Mean[c][i]))
		}
	}
	base := waveRange[0]
	for _, r := range waveRange {
		if float64(r) <= low {
			base = r
		}
	}
	w.Say = fmt.Sprintf("Filled: mean of ten cycles. Marks: the last cycle. Height: %s to %s %s absolute. "+
		"0° is the dip of cylinder %d.", v.Unit.Format(base), v.Unit.Format(pressure.KPa(high)), v.Unit.Name, first)
	start := int(math.Round(wave.DipAt[first-1]*session.WavePoints)) - leadPoints + session.WavePoints
	for c := range wave.N {
		s := Strip{Label: fmt.Sprint(c + 1)}
		if r := v.reading(); r != nil && c < len(r.Cylinders) {
			s.Fault = faults[r.Cylinders[c].State]
		}
		for i := range session.WavePoints {
			k := (start + i) % session.WavePoints
			s.Mean = append(s.Mean, share(wave.Mean[c][k], base, high))
			s.Live = append(s.Live, share(wave.Live[c][k], base, high))
		}
		w.Strips = append(w.Strips, s)
	}
	for deg := 0; deg < 720; deg += 180 {
		w.Marks = append(w.Marks, WaveMark{float64(deg+90) / 720, fmt.Sprintf("%d°", deg)})
	}
	return w
}

func share(kpa float32, low pressure.KPa, high float64) float64 {
	return min(max((float64(kpa)-float64(low))/(high-float64(low)), 0), 1)
}

// rigTable is what is known of every channel, and of the line.
func (v *View) rigTable() *Table {
	t := &Table{Rows: [][]string{{"channel", "cylinder", "kind", "zero error", "counts", "volts", "state"}},
		Roles: []Role{Dim}}
	if v.snap().Board == nil {
		t.Below = []Text{{"No board has answered yet.", Plain}}
		if v.Page == PageRig && v.LinkNote != "" {
			for line := range strings.SplitAfterSeq(plain.Text(v.LinkNote), ". ") {
				t.Below = append(t.Below, Text{line, Warn})
			}
		}
		return v.scrolled(t)
	}
	a, cfg := v.Snap.Board, &v.Snap.Config
	for i, ch := range a.Channels {
		row, role := v.channelRow(i, string(ch.Role))
		t.Rows, t.Roles = append(t.Rows, row), append(t.Roles, role)
	}
	l, come := v.Snap.Link, plain.Dash+" arrive"
	if v.rate.Seconds > 0 {
		come = fmt.Sprintf("%.0f arrive", v.rate.PerSecond)
	}
	t.Below = []Text{
		{fmt.Sprintf("Board %s, %s, program %s: %d bits. Frames a second: %d asked for, %s. "+
			"A frame is one value of each channel.", plain.Text(a.Serial), plain.Text(a.Model),
			plain.Text(a.Program), a.Bits, a.Rate, come), Plain},
		{fmt.Sprintf("%d frames: %d lost, %d damaged, %d missed by the board, %d doubled, %d restarts.",
			l.Frames, l.Lost, l.Damaged, l.Overflows, l.Duplicates, l.Restarts), Plain},
		{fmt.Sprintf("Air pressure %.1f kPa, %s.", float64(cfg.Ambient), ambientWords(cfg)), Plain},
	}
	if l.Lost+l.Damaged+l.Overflows > 0 {
		t.Below[1].Role = Warn
	}
	return v.scrolled(t)
}

// scrolled leaves out of the board's page what was scrolled past: rows, but their head, then lines.
func (v *View) scrolled(t *Table) *Table {
	if v.Page == PageRig && v.Cursor > 0 {
		rows := min(v.Cursor, len(t.Rows)-1)
		t.Rows, t.Roles = slices.Delete(t.Rows, 1, 1+rows), slices.Delete(t.Roles, 1, 1+rows)
		t.Below = t.Below[min(v.Cursor-rows, len(t.Below)-1):]
	}
	return t
}

// channelRow is one channel's row of the rig's table.
func (v *View) channelRow(i int, use string) ([]string, Role) {
	a, cfg := v.Snap.Board, &v.Snap.Config
	count := v.Snap.Counts[i]
	row := []string{fmt.Sprint(i), plain.Dash, use, plain.Dash, fmt.Sprint(count),
		fmt.Sprintf("%.3f", float64(count)/float64(uint32(1)<<a.Bits)*float64(a.ReferenceMV)/1000), "not used"}
	if v.age() > blankAfter {
		row[4], row[5] = plain.Dash, plain.Dash
	}
	role := Dim
	if c := slices.Index(v.Snap.Bank.Channels, i); c >= 0 {
		kind := cfg.Setup.Kind(i)
		row[1], row[2], row[6], role = fmt.Sprint(c+1), kind.Name, plain.Dash, Plain
		if cfg.Zeroed && i < len(cfg.Setup.Offsets) {
			row[3] = v.Unit.FormatSigned(cfg.Setup.Offsets[i]) + " " + v.Unit.Name
		}
		if r := v.reading(); r != nil && c < len(r.Cylinders) && v.age() <= blankAfter {
			row[6] = "good"
			if f := faults[r.Cylinders[c].State]; f != "" {
				row[6], role = f, Warn
			}
			if r.Cylinders[c].State == cycle.NoPulse && !r.Span.Cycle {
				row[6], role = "quiet", Plain
			}
		}
	}
	return row, role
}

// ambientWords says where the air pressure is from.
func ambientWords(cfg *session.Config) string {
	switch cfg.AmbientFrom {
	case session.FromZeroPass:
		return "from the zero pass"
	case session.FromUser:
		return "as given"
	}
	return "assumed: the standard atmosphere"
}
