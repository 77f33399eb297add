package tell

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"evendraw/internal/plain"
	"evendraw/internal/sensor"
)

// minus formats figures, with the minus sign that every text and screen has.
func minus(format string, args ...any) string {
	return strings.ReplaceAll(fmt.Sprintf(format, args...), "-", "−")
}

// Kept is what became of a pass: the path of the card that it is on, or why it is on none.
type Kept struct{ Path, Not string }

// ZeroText prints a zero pass of a rig's sensors, and where it was kept.
func ZeroText(out io.Writer, zr *sensor.Zero, rig *sensor.Setup, kept Kept) {
	fmt.Fprintf(out, "zero: common air pressure %.2f kPa, from %d samples in %.1f s\n", float64(zr.Ambient), zr.Samples,
		zr.Seconds)
	for i, o := range zr.Offsets {
		fmt.Fprintln(out, minus("  channel %d  zero error %+.3f kPa ±%.3f  noise %.3f", i, float64(o),
			float64(zr.Uncertainty[i]), float64(zr.Noise[i])))
		if allowed := rig.Kind(i).Error; max(o, -o) > allowed {
			fmt.Fprintf(out, "    its data sheet allows ±%.1f, so that two sound ones may be %.1f apart; more than "+
				"%.1f is refused\n", allowed, 2*allowed, sensor.ZeroMaxBands*allowed)
		}
	}
	if kept.Path != "" {
		fmt.Fprintln(out, "kept in", kept.Path)
	}
}

// ZeroJSON prints a zero pass as JSON.
func ZeroJSON(out io.Writer, serial string, zr *sensor.Zero, kept Kept) error {
	return passJSON(out, kept, map[string]any{"board": serial, "ambient_kpa": zr.Ambient, "offsets_kpa": zr.Offsets,
		"uncertainty_kpa": zr.Uncertainty, "noise_kpa": zr.Noise, "samples": zr.Samples, "seconds": zr.Seconds})
}

// passJSON prints a pass, and where it was kept.
func passJSON(out io.Writer, kept Kept, pass map[string]any) error {
	if kept.Path != "" {
		pass["saved"] = kept.Path
	}
	if kept.Not != "" {
		pass["not_saved"] = kept.Not
	}
	return json.NewEncoder(out).Encode(pass)
}

// MatchText prints a match pass.
func MatchText(out io.Writer, m *sensor.Match, kept Kept) {
	fmt.Fprintf(out, "match: source %.1f kPa below the air pressure, span %.1f kPa, %d points in %.0f s\n",
		float64(m.Level), float64(m.Span), m.Blocks, m.Seconds)
	for i, g := range m.Gains {
		if math.IsNaN(m.Uncertainty[i]) {
			fmt.Fprintf(out, "  channel %d  left aside\n", i)
			continue
		}
		line := minus("  channel %d  reads %+.2f %% ±%.2f of the vacuum, %+.2f kPa at %.0f; scatter %.3f kPa",
			i, 100*(g-1), 100*m.Uncertainty[i], (g-1)*float64(sensor.BudgetDraw), float64(sensor.BudgetDraw),
			float64(m.Residual[i]))
		if !math.IsNaN(float64(m.Bend[i])) {
			line += minus(", bends by %+.2f", float64(m.Bend[i]))
		}
		fmt.Fprintln(out, line)
	}
	if kept.Path != "" {
		fmt.Fprintln(out, "from now on this is taken off; the zero is as it was")
		fmt.Fprintln(out, "kept in", kept.Path)
	}
}

// MatchJSON prints a match pass as JSON.
func MatchJSON(out io.Writer, serial string, m *sensor.Match, kept Kept) error {
	channels := []map[string]any{}
	for i, gain := range m.Gains {
		if math.IsNaN(m.Uncertainty[i]) { // left aside
			gain = math.NaN()
		}
		channels = append(channels, map[string]any{"channel": i, "gain": plain.Number(gain),
			"uncertainty": plain.Number(m.Uncertainty[i]), "residual_kpa": plain.Number(m.Residual[i]),
			"bend_kpa": plain.Number(m.Bend[i])})
	}
	return passJSON(out, kept, map[string]any{"board": serial, "gains": m.Gains, "channels": channels,
		"level_kpa": m.Level, "span_kpa": m.Span, "points": m.Blocks, "seconds": m.Seconds})
}

// RefusalJSON prints why a pass was refused, as JSON.
func RefusalJSON(out io.Writer, err error, words func(error) string) {
	channel, reason := -1, err.Error()
	var r *sensor.Refusal
	if errors.As(err, &r) {
		channel, reason = r.Channel, r.Reason
	}
	json.NewEncoder(out).Encode(map[string]any{"refused": map[string]any{"channel": channel, "reason": reason,
		"text": words(err)}})
}
