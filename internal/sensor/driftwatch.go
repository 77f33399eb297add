package sensor

import (
	"math"
	"slices"

	"evendraw/internal/pressure"
)

// Limits of the drift watch.
const (
	// DriftLimit is the drift of one channel against the others for which a new zero pass is asked.
	// Chosen: half of the smallest aim that careful people have (0.7 kPa, common practice).
	DriftLimit pressure.KPa = 0.35
	// DriftCommon is the drift of all channels together for which it is asked: weather takes hours to
	// do that. Differences don't feel it. Chosen.
	DriftCommon pressure.KPa = 1
	// driftSeconds is over how long the engine must have stood. Chosen: a mean of thousands of samples;
	// after the last pulse the hoses have settled.
	driftSeconds = 3.0
	// driftStep is the length of the pieces that must all be quiet.
	driftStep = 0.5
	// driftQuiet is the largest standard deviation of a piece.
	driftQuiet = zeroMaxSD
	// driftNear is how near to ambient all channels must be to be taken for open to it.
	driftNear pressure.KPa = 3
	// driftStride is how many samples there are for each that is looked at: a mean of seconds needs no more.
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

// DriftWatch watches the samples for times in which the engine stands, and says by how much the sensors
// have moved since the zero pass. It is a cheap stage: a few additions for one sample in four.
type DriftWatch struct {
	ambient pressure.KPa
	used    []int
	from    float64
	n       int
	skipped int
	sum, sq [MaxChannels]float64
	quiet   int // pieces in a row
	mean    [MaxChannels]float64
	drift   Drift
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
	if s.Break || d.n == 0 {
		d.begin(s.Time)
	} else if s.Time-d.from >= driftStep {
		d.endPiece(s.Time)
	}
	d.n++
	for _, i := range d.used {
		v := float64(s.Absolute[i] - d.ambient)
		d.sum[i] += v
		d.sq[i] += v * v
	}
}

func (d *DriftWatch) begin(t float64) {
	d.from, d.n = t, 0
	d.sum, d.sq = [MaxChannels]float64{}, [MaxChannels]float64{}
}

func (d *DriftWatch) endPiece(t float64) {
	n := float64(d.n)
	for _, i := range d.used {
		mean := d.sum[i] / n
		sd := math.Sqrt(max(d.sq[i]/n-mean*mean, 0))
		if sd > float64(driftQuiet) || math.Abs(mean) > float64(driftNear) {
			d.quiet, d.mean = 0, [MaxChannels]float64{}
			d.begin(t)
			return
		}
		d.mean[i] += mean
	}
	d.begin(t)
	if d.quiet++; float64(d.quiet)*driftStep >= driftSeconds {
		d.conclude(t)
		d.quiet, d.mean = 0, [MaxChannels]float64{}
	}
}

// conclude takes the mean of the quiet pieces.
func (d *DriftWatch) conclude(t float64) {
	if len(d.used) == 0 {
		return
	}
	means := make([]float64, 0, MaxChannels)
	for _, i := range d.used {
		means = append(means, d.mean[i]/float64(d.quiet))
	}
	mid := median(means)
	out := Drift{Seen: true, Time: t, Common: pressure.KPa(mid), Channel: d.used[0]}
	for k, i := range d.used {
		out.Own[i] = pressure.KPa(means[k] - mid)
		if math.Abs(float64(out.Own[i])) > math.Abs(float64(out.Own[out.Channel])) {
			out.Channel = i
		}
	}
	size := func(p pressure.KPa) pressure.KPa { return max(p, -p) }
	out.Asks = size(out.Common) > DriftCommon || len(d.used) > 1 && slices.ContainsFunc(out.Own[:], func(p pressure.KPa) bool { return size(p) > DriftLimit })
	d.drift = out
}
