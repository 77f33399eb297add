package sensor

import (
	"math"
	"slices"

	"evendraw/internal/pressure"
	"evendraw/internal/series"
)

// Limits of the drift watch.
const (
	// driftOwnLimit is the drift of one channel against the others from which on a new zero pass is due.
	// Chosen: half of the smallest aim that careful people have (0.7 kPa, common practice).
	driftOwnLimit pressure.KPa = 0.35
	// driftCommonLimit is the same of all channels together, which leaves differences as they are.
	// Chosen: weather takes hours to do that.
	driftCommonLimit pressure.KPa = 1
	// driftSeconds is how long the engine must have stood. Chosen: a mean of thousands of samples, and
	// hoses that have settled after the last pulse.
	driftSeconds = 3.0
	// driftPieceSeconds is the length of the pieces that must all be quiet.
	driftPieceSeconds = 0.5
	// driftMaxSD is the largest standard deviation of a piece.
	driftMaxSD = zeroMaxSD
	// driftNearAmbient is how far off ambient a channel may be and still be open to it.
	driftNearAmbient pressure.KPa = 3
	// driftStride: one sample in driftStride is looked at; a mean of seconds needs no more.
	driftStride = 4
)

// Drift is what a DriftWatch last saw with the engine off.
type Drift struct {
	// Seen is set once the engine has stood long enough; Time is when, in s.
	Seen bool
	Time float64
	// Common is the median of the channels less ambient, Own each channel's reading less that median,
	// by channel; 0 for those not watched.
	Common pressure.KPa
	Own    [MaxChannels]pressure.KPa
	// Channel is the one with the largest Own; Asks is set when a new zero pass is due.
	Channel int
	Asks    bool
}

// DriftWatch waits for times in which the engine stands, and says by how much the sensors have moved since
// the zero pass.
type DriftWatch struct {
	ambient     pressure.KPa
	used        []int
	piece       piece // of Absolute - ambient
	skipped     int
	quietPieces int // in a row
	mean        [MaxChannels]float64
	drift       Drift
}

// NewDriftWatch returns a watch over the given channels, whose samples are zeroed on ambient.
func NewDriftWatch(channels []int, ambient pressure.KPa) DriftWatch {
	return DriftWatch{used: channels, ambient: ambient}
}

// Drift returns what was seen last.
func (d *DriftWatch) Drift() Drift { return d.drift }

// Push takes one sample.
func (d *DriftWatch) Push(s *Sample) {
	if d.skipped++; d.skipped < driftStride && !s.Break {
		return
	}
	d.skipped = 0
	if s.Break || d.piece.n == 0 {
		d.piece = piece{from: s.Time}
	} else if s.Time-d.piece.from >= driftPieceSeconds {
		d.endPiece(s.Time)
	}
	d.piece.n++
	for _, i := range d.used {
		d.piece.add(i, float64(s.Absolute[i]-d.ambient))
	}
}

func (d *DriftWatch) endPiece(t float64) {
	ended := d.piece
	d.piece = piece{from: t}
	for _, i := range d.used {
		mean, sd := ended.meanSD(i)
		if sd > float64(driftMaxSD) || math.Abs(mean) > float64(driftNearAmbient) {
			d.quietPieces, d.mean = 0, [MaxChannels]float64{}
			return
		}
		d.mean[i] += mean
	}
	if d.quietPieces++; float64(d.quietPieces)*driftPieceSeconds >= driftSeconds {
		d.conclude(t)
		d.quietPieces, d.mean = 0, [MaxChannels]float64{}
	}
}

// conclude takes the mean of the quiet pieces.
func (d *DriftWatch) conclude(t float64) {
	if len(d.used) == 0 {
		return
	}
	means := make([]float64, 0, MaxChannels)
	for _, i := range d.used {
		means = append(means, d.mean[i]/float64(d.quietPieces))
	}
	mid := series.Median(slices.Clone(means))
	out := Drift{Seen: true, Time: t, Common: pressure.KPa(mid), Channel: d.used[0]}
	for k, i := range d.used {
		out.Own[i] = pressure.KPa(means[k] - mid)
		if math.Abs(float64(out.Own[i])) > math.Abs(float64(out.Own[out.Channel])) {
			out.Channel = i
		}
	}
	size := func(p pressure.KPa) pressure.KPa { return max(p, -p) }
	out.Asks = size(out.Common) > driftCommonLimit || len(d.used) > 1 &&
		slices.ContainsFunc(out.Own[:], func(p pressure.KPa) bool { return size(p) > driftOwnLimit })
	d.drift = out
}
