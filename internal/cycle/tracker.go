package cycle

import (
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Constants of the tracker.
const (
	// stillSeconds is the length of a span in which there is no cycle.
	stillSeconds = 0.25
	// searchSeconds is how often a period is looked for. Chosen: quick enough
	// for a start, and cheap.
	searchSeconds = 0.1
	// longGap is the share of a cycle that may be missing before the cycle
	// is given up. Chosen: half of what a boundary is matched on.
	longGap = 0.25
	// fastestRate is the most samples a second that the history is laid out
	// for; faster input keeps less of it.
	fastestRate = 5000
)

// Tracker is the stage from samples to spans.
type Tracker struct {
	cfg     Config
	history *history
	acquire *acquire
	follow  *follow
	still   float64 // where the next span without a cycle starts
	search  float64 // when to look for a period next
	broken  bool    // the next span is the first after a break
	health  health
}

// NewTracker returns a Tracker. It panics when cfg names no channel or more than
// MaxCylinders.
func NewTracker(cfg Config) *Tracker {
	if n := len(cfg.Channels); n == 0 || n > MaxCylinders {
		panic("cycle: internal error: number of cylinders out of range")
	}
	if cfg.MinRPM <= 0 {
		cfg.MinRPM = DefaultMinRPM
	}
	if cfg.MaxRPM <= cfg.MinRPM {
		cfg.MaxRPM = max(DefaultMaxRPM, 2*cfg.MinRPM)
	}
	n := len(cfg.Channels)
	longest := rpmSeconds / cfg.MinRPM
	t := &Tracker{cfg: cfg, broken: true}
	t.acquire = newAcquire(n, rpmSeconds/cfg.MaxRPM, longest)
	t.follow = newFollow(n)
	t.history = newHistory(cfg.Channels, int(fastestRate*(t.acquire.seconds()+longest)))
	t.health = health{ambient: cfg.Ambient, n: n}
	return t
}

// SetAmbient tells a newly learned air pressure.
func (t *Tracker) SetAmbient(ambient pressure.KPa) { t.health.ambient = ambient }

// Push takes one sample; ok is true when it completes a span. A sample
// completes one span at most.
func (t *Tracker) Push(s *sensor.Sample) (span Span, ok bool) {
	h := t.history
	if h.count > 0 && (s.Break || s.Time <= h.newest() || s.Gap > longGap*t.scale()) {
		t.lose()
		t.broken = true
		h.reset()
	}
	h.push(s)
	if h.count == 1 {
		t.still, t.search = s.Time, s.Time
		return span, false
	}
	if t.follow.active {
		return t.pushCycle(s.Time)
	}
	if s.Time >= t.search {
		t.search = s.Time + searchSeconds
		if period, found := t.acquire.period(h); found {
			t.follow.begin(h, period)
			return span, false
		}
	}
	if s.Time-t.still >= stillSeconds {
		span = t.cut(t.still, s.Time, false)
		t.still = s.Time
		return span, true
	}
	return span, false
}

// scale is the length of time that a gap is held against.
func (t *Tracker) scale() float64 {
	if t.follow.active {
		return t.follow.period
	}
	return stillSeconds
}

func (t *Tracker) pushCycle(now float64) (span Span, ok bool) {
	if now < t.follow.ready() {
		return span, false
	}
	start := t.follow.boundary
	end, found := t.follow.next(t.history)
	if rpm := rpmSeconds / (end - start); !found || rpm > 1.1*t.cfg.MaxRPM || rpm < t.cfg.MinRPM/1.1 {
		t.lose()
		return span, false
	}
	return t.cut(start, end, t.follow.misses == 0), true
}

// lose ends following; spans without a cycle go on from the newest sample.
func (t *Tracker) lose() {
	t.follow.active = false
	t.still = t.history.newest()
	t.search = t.still
}

// cut makes the span from start to end.
func (t *Tracker) cut(start, end float64, isCycle bool) Span {
	h := t.history
	s := Span{Start: start, Period: end - start, Cycle: isCycle, N: len(h.channels), Break: t.broken}
	t.broken = false
	i0, share0 := h.find(start)
	i1, share1 := h.find(end)
	for c := range h.channels {
		area := h.integral(c, i1, share1) - h.integral(c, i0, share0)
		s.Mean[c] = pressure.KPa(area / s.Period)
	}
	t.health.begin()
	for c := range h.channels {
		low, high, at := h.value(c, i0, share0), h.value(c, i0, share0), i0
		for i := i0 + 1; i <= i1; i++ {
			v := h.kpa[c][i&h.mask]
			if v < low {
				low, at = v, i
			}
			high = max(high, v)
			t.health.rail(c, h.rail[c][i&h.mask])
		}
		s.Lowest[c], s.Highest[c] = pressure.KPa(low), pressure.KPa(high)
		s.DipAt[c] = min(max((h.time[at&h.mask]-start)/s.Period, 0), 1)
	}
	for i := i0 + 1; i <= i1+1; i++ {
		s.Gap = s.Gap || h.gap[i&h.mask]
	}
	t.health.samples = i1 - i0
	t.health.judge(&s)
	return s
}
