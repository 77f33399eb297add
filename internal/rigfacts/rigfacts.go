// Package rigfacts says what is known of each channel of a board, and of its line, as plain texts: a session's snapshot
// comes in, the cells and lines of the board's page come out. Begin with Channels.
package rigfacts

import (
	"fmt"
	"math"
	"slices"

	"evendraw/internal/cycle"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/suspects"
)

// Head is what stands over the cells of a Channel.
var Head = []string{"channel", "cylinder", "kind", "zero error", "counts", "volts", "state"}

// Channel is what is known of one channel.
type Channel struct {
	Cells []string
	// Used is set where a cylinder of the bank is read by it, Bad where that cylinder's readings are at fault.
	Used, Bad bool
}

// Channels returns what is known of each channel of the snapshot's board, which must be known. fresh is not set where
// the readings are too old to show; offsets are in the unit.
func Channels(snap *session.Snapshot, u pressure.Unit, fresh bool) (list []Channel) {
	for i, ch := range snap.Board.Channels {
		list = append(list, channel(snap, u, fresh, i, string(ch.Role)))
	}
	return list
}

func channel(snap *session.Snapshot, u pressure.Unit, fresh bool, i int, use string) (c Channel) {
	a, cfg, count := snap.Board, &snap.Config, snap.Counts[i]
	c.Cells = []string{fmt.Sprint(i), plain.Dash, use, plain.Dash, fmt.Sprint(count),
		fmt.Sprintf("%.3f", float64(count)/float64(uint32(1)<<a.Bits)*float64(a.ReferenceMV)/1000), "not used"}
	if !fresh {
		c.Cells[4], c.Cells[5] = plain.Dash, plain.Dash
	}
	at := slices.Index(snap.Bank.Channels, i)
	if at < 0 {
		return c
	}
	c.Used = true
	c.Cells[1], c.Cells[2], c.Cells[6] = fmt.Sprint(at+1), cfg.Setup.Kind(i).Name, plain.Dash
	if cfg.Zeroed && i < len(cfg.Setup.Offsets) {
		c.Cells[3] = u.FormatSigned(cfg.Setup.Offsets[i]) + " " + u.Name
	}
	if r := snap.Reading; r != nil && at < len(r.Cylinders) && fresh {
		c.Cells[6] = "good"
		if f := suspects.States[r.Cylinders[at].State]; f != "" {
			c.Cells[6], c.Bad = f, true
		}
		if r.Cylinders[at].State == cycle.NoPulse && !r.Span.Cycle {
			c.Cells[6], c.Bad = "quiet", false
		}
	}
	return c
}

// Line returns what is known of the board, of its line, and of the air pressure, a line each; perSecond is how many
// frames a second arrive, NaN while that is unknown. bad is set where the second tells of frames not come
// whole.
func Line(snap *session.Snapshot, perSecond float64) (lines [3]string, bad bool) {
	a, l, cfg, come := snap.Board, snap.Link, &snap.Config, plain.Dash+" arrive"
	if !math.IsNaN(perSecond) {
		come = fmt.Sprintf("%.0f arrive", perSecond)
	}
	return [...]string{
		fmt.Sprintf("Board %s, %s, program %s, %d bits. It is to send %d frames a second (a frame is one value of "+
			"each channel); %s.", plain.Text(a.Serial), plain.Text(a.Model), plain.Text(a.Program), a.Bits, a.Rate,
			come),
		fmt.Sprintf("%d frames: %d lost, %d damaged, %d missed by the board, %d doubled, %d restarts.", l.Frames,
			l.Lost, l.Damaged, l.Overflows, l.Duplicates, l.Restarts),
		fmt.Sprintf("Air pressure %.1f kPa, %s.", float64(cfg.Ambient), ambientFrom[cfg.AmbientFrom]),
	}, l.Lost+l.Damaged+l.Overflows > 0
}

// ambientFrom says where the air pressure is from.
var ambientFrom = map[session.AmbientFrom]string{session.FromZeroPass: "from zeroing", session.FromUser: "as given",
	session.FromStandard: "assumed: the standard atmosphere"}
