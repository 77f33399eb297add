package cycle

import (
	"math"
	"slices"

	"evendraw/internal/misfire"
	"evendraw/internal/pressure"
	"evendraw/internal/sensor"
)

// Constants of the tracker.
const (
	// stillSeconds is the length of a span in which there is no cycle.
	stillSeconds = 0.25
	// searchSeconds is every how many seconds a period is looked for. Chosen: quick enough for a start, and cheap.
	searchSeconds = 0.1
	// searchParts: at least a searchParts-th of the longest cycle lies between searches, as
	// they cost as its square. Chosen.
	searchParts = 5
	// longGap is the share of a cycle that may be missing before following
	// is given up. Chosen: half of what a boundary is matched on.
	longGap = 0.25
	// hoseChangeSeconds without a cycle are long enough to put another hose on. Chosen.
	hoseChangeSeconds = 5
	// restartSeconds without a cycle are a standstill: a cylinder that stopped firing may be mended then. Chosen.
	restartSeconds = 2
	// minDetailSamples is the fewest samples in a cycle that show a hose's lag and a dip's strength. Chosen.
	minDetailSamples = 24
	// smoothShare is over how much of a long hose's lag, to each side, the pressure at a boundary is averaged
	// where the lag is undone, or noise would count by the lag over the period. Chosen.
	smoothShare = 0.25
	// A cycle slower than slowRPM is told where it and the rhythmCycles - 1 before it were each as long as the one
	// before, within rhythmShare, or where it was and the one before was told: few pulses at uneven times make a
	// cycle by chance. Chosen: no engine idles slower. One that has told surelyCycles in a row may misfire, too.
	slowRPM      = 600
	rhythmCycles = 3
	rhythmShare  = 0.1
	surelyCycles = 12
	// rememberedLooks is how many refills a mean refill remembers. That many are all looked
	// at, of later ones a part. Chosen.
	rememberedLooks = 200
	// fastestRate is the most samples a second that the history has room for; of faster input it keeps a shorter time.
	fastestRate = 5000
)

// Tracker is the stage from samples to spans.
type Tracker struct {
	cfg          Config
	history      *history
	acquire      *acquire
	follow       *follow
	stillFrom    float64 // when the next span without a cycle starts
	searchAt     float64 // when to look for a period next
	broken       bool    // the next span is the first after a break
	silence      float64 // of that break, s
	lostAt       float64 // when following ended
	still        int     // cycles in a row in which the air of all runners stood
	emittedUntil float64 // when the last span since a break ended
	health       health
	despike      despike
	misfires     misfire.Watch
	span         Span // the last
	hoses        [MaxCylinders]hose
	openings     [MaxCylinders]opening // of the last cycle
	course       courseFit
	cycles       int
	period       float64 // of the last cycle, s
	alike        int     // cycles in a row that were as long as the one before
	inRow        int     // cycles in a row that were told
	inRhythm     bool    // the last cycle was even enough to be told
	parts        int     // stretches between breaks, so far
}

// NewTracker returns a Tracker. It panics when cfg names no channel or more than MaxCylinders.
func NewTracker(cfg Config) *Tracker {
	fillTables()
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
	t.follow.intake.ambient = float64(cfg.Ambient)
	if cfg.ZeroBand > 0 {
		t.course.zeroSD = float64(cfg.ZeroBand/cfg.Ambient) / zeroBandSDs
	}
	return t
}

// SetAmbient sets a newly learned air pressure; the sensors' zeros are known from then on. What was learned of the
// hoses is forgotten: refills are ratios to ambient, and the sensors' zeros are new too.
func (t *Tracker) SetAmbient(ambient pressure.KPa) {
	t.health.ambient = ambient
	t.follow.intake.ambient = float64(ambient)
	t.follow.intake.reset()
	clear(t.hoses[:])
	t.course.zeroSD = 0
}

// Push takes one sample; ok is true when it completes a span, which stays valid until
// the next Push. A sample completes one span at most.
func (t *Tracker) Push(s *sensor.Sample) (span *Span, ok bool) {
	return &t.span, t.take(s)
}

// take is Push with the span left in the Tracker.
func (t *Tracker) take(s *sensor.Sample) bool {
	h := t.history
	if h.count > 0 {
		if s.Time == h.newest() && !s.Break {
			return false // a repeated sample
		}
		if s.Break || s.Time < h.newest() || s.Gap > longGap*t.scale() {
			t.lose()
			t.misfires = misfire.Watch{}
			t.broken = true
			t.silence += s.Gap
			h.reset()
		}
	}
	if moved := h.push(s); moved > 0 {
		t.despike.renumber(moved)
	}
	if h.count == 1 {
		t.parts++
		t.stillFrom, t.searchAt, t.emittedUntil, t.lostAt = s.Time, s.Time, s.Time, s.Time
		t.despike.reset()
		return false
	}
	t.despike.noteRate(h)
	last := h.count - 1 - t.despike.delay()
	if last < 2 {
		return false
	}
	now := h.at(last)
	if t.follow.active {
		if now < t.follow.readyAt() {
			return false
		}
		t.despike.advance(h, last)
		return t.takeCycle()
	}
	if now >= t.searchAt {
		t.searchAt = now + max(searchSeconds, rpmSeconds/t.cfg.MinRPM/searchParts)
		t.despike.advance(h, last)
		if t.acquire.reach(h, now) && t.search(now) {
			return false
		}
	}
	if now-t.stillFrom >= stillSeconds {
		t.despike.advance(h, last)
		t.cut(t.stillFrom, now, false)
		t.stillFrom = now
		if now-t.lostAt > hoseChangeSeconds {
			clear(t.hoses[:])
		}
		if now-t.lostAt > restartSeconds {
			t.misfires = misfire.Watch{}
		}
		return true
	}
	return false
}

// search looks for a period in the samples until now, and follows the one that it finds.
func (t *Tracker) search(now float64) (found bool) {
	period, found := t.acquire.period(t.history, now)
	if found {
		t.follow.begin(t.history, period, now)
		if !t.follow.active {
			t.lose()
		}
	}
	return found
}

// scale is the time, s, of which longGap is a share.
func (t *Tracker) scale() float64 {
	if t.follow.active {
		return t.follow.period
	}
	return stillSeconds
}

// takeCycle finds the next boundary and cuts the cycle; false when there is no new span.
func (t *Tracker) takeCycle() bool {
	f := t.follow
	f.noise = t.despike.noise(len(t.history.channels))
	start := f.boundary
	end, found := f.next(t.history)
	if rpm := rpmSeconds / (end - start); !found || rpm > 1.1*t.cfg.MaxRPM || rpm < t.cfg.MinRPM/1.1 {
		t.lose()
		return false
	}
	t.cycles++
	for c := range t.history.channels {
		t.openings[c] = t.opening(c)
	}
	poolLags(t.hoses[:len(t.history.channels)])
	if t.cycles%measureEvery == 0 {
		t.findBlunt()
	}
	t.judgeJets()
	for c := range t.history.channels {
		f.intake.setRefill(c, t.hoses[c].pace(), t.hoses[c].lag, f.period)
	}
	// Following begins in the past, which spans without a cycle may already cover.
	isNew := end-t.commonLag() > t.emittedUntil
	if f.sick.moved { // spans of cycles don't overlap
		isNew = start-t.commonLag() > t.emittedUntil-sameTime*f.period
		f.sick.moved = !isNew
	}
	rhythm := t.hasRhythm(end - start)
	if isNew {
		t.cut(start, end, f.misses == 0 && rhythm)
		t.span.Upset = t.span.Cycle && f.upset
		t.moveBoundary()
		t.endStill()
	}
	if f.template.cyclesHeld > 1 {
		t.lose()
	}
	return isNew
}

// hasRhythm takes the length of a cycle, s, and reports whether cycles are even enough to be told.
func (t *Tracker) hasRhythm(period float64) bool {
	if t.alike++; t.follow.misses > 0 || math.Abs(period-t.period) > rhythmShare*t.period {
		t.alike = 0
	}
	t.period = period
	t.inRhythm = t.alike >= rhythmCycles || slowRPM*period < rpmSeconds ||
		t.inRhythm && (t.alike > 0 || t.inRow >= surelyCycles)
	if t.inRow++; !t.inRhythm || t.follow.misses > 0 {
		t.inRow = 0
	}
	return t.inRhythm
}

// lose ends following; spans without a cycle go on from the newest sample. A search that is due later stays so: while
// a speed changes, what it finds is often lost at once.
func (t *Tracker) lose() {
	t.follow.active = false
	t.alike, t.inRow, t.period, t.inRhythm = 0, 0, 0, false
	t.misfires.Lose()
	t.stillFrom = t.history.newest()
	t.searchAt, t.lostAt = max(t.searchAt, t.stillFrom), t.stillFrom
}

// commonLag returns the mean of the hoses' lags, s.
func (t *Tracker) commonLag() float64 {
	return meanLag(len(t.history.channels), func(c int) float64 { return t.hoses[c].lag })
}

// meanLag returns the mean of the cylinders' lags; unknown ones count as 0.
func meanLag(cylinders int, lag func(c int) float64) (mean float64) {
	for c := range cylinders {
		mean += lag(c) / float64(cylinders)
	}
	return mean
}

// opening returns cylinder c's opening and renews what is known of its hose. Once that is well
// known, the cylinders take turns.
func (t *Tracker) opening(c int) opening {
	var r refillSpan
	o, f := &t.hoses[c], t.follow
	if why := r.find(t.history, c, f.boundary, f.period, f.template.dip[c], float64(t.health.ambient)); why != "" {
		return noOpening(why)
	}
	every := 1
	if o.refill.looks >= rememberedLooks {
		every = 3 * len(t.history.channels)
	}
	if (t.cycles+c)%every == 0 {
		o.noteLateness(f.template.kpa[c], f.period/bins)
	}
	if f.misses == 0 && f.period > minDetailSamples*t.history.step && (t.cycles+c)%every == 0 {
		t.course.usual = t.usualLag(c)
		o.addRefill(&r, &t.course)
	}
	return o.opening(&r)
}

// usualLag returns the lower median of the lags that hoses show but that of c, s; 0 while none is known.
func (t *Tracker) usualLag(c int) float64 {
	var known [MaxCylinders]float64
	n := 0
	for i := range t.history.channels {
		if o := &t.hoses[i]; i != c && o.good {
			known[n] = o.ownLag
			n++
		}
	}
	slices.Sort(known[:n])
	return known[max(n-1, 0)/2]
}

// cut makes t.span from start to end.
func (t *Tracker) cut(start, end float64, isCycle bool) {
	h, s := t.history, &t.span
	*s = Span{Start: start, Period: end - start, Cycle: isCycle, N: len(h.channels), Break: t.broken,
		Silence: t.silence}
	t.broken, t.silence = false, 0
	common := 0.0
	if isCycle {
		common = t.commonLag()
		start, end = start-common, end-common
		s.Start = start
	}
	t.emittedUntil = end
	i0, share0 := h.find(start)
	i1, share1 := h.find(end)
	for c := range h.channels {
		s.Mean[c] = pressure.KPa(h.mean(c, i0, share0, i1, share1))
		low, at, high := h.extremes(c, i0, i1)
		s.Lowest[c], s.Highest[c] = pressure.KPa(low), pressure.KPa(high)
		s.DipAt[c] = min(max((h.at(at)-start)/s.Period, 0), 1)
		s.Opening[c], s.Refill[c], s.Lag[c], s.Damping[c] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
		if isCycle {
			seen := &t.openings[c]
			s.Opening[c], s.NoOpening[c], s.Refill[c], s.Hose[c] = seen.area, seen.why, seen.pace, t.hoses[c].shown
			// The template's dip does not scatter.
			s.DipAt[c] = math.Mod(t.follow.template.dip[c]+common/s.Period, 1)
			from, to := h.cubic(c, i0), h.cubic(c, i1)
			rise := to.at(share1) - from.at(share0)
			if w := smoothShare * t.hoses[c].lag; t.hoses[c].isLong() && end+w < h.newest() && start-w > h.oldest() {
				rise = h.meanAround(c, end, w) - h.meanAround(c, start, w)
			}
			t.undoLag(c, rise)
		}
	}
	t.judge(i0, i1)
}

// undoLag takes the lag of a cylinder's hose off its mean, and fills in Lag and Damping. With P = y + lag y', the mean
// of P over T is that of y and lag (y(end) - y(start)) / T; rise is y(end) - y(start).
func (t *Tracker) undoLag(c int, rise float64) {
	o, s := &t.hoses[c], &t.span
	if !o.good {
		return
	}
	s.Mean[c] += pressure.KPa(o.lag * rise / s.Period)
	if t.cycles%measureEvery == 0 || o.damping == 0 {
		o.damping = damping(t.follow.template.kpa[c], o.lag, s.Period/bins)
	}
	s.Lag[c], s.Damping[c] = o.lag, o.damping
}

// judge sets the span's states, gaps and misfires. Its samples are those after i0 up to i1;
// a gap behind the last of them counts too.
func (t *Tracker) judge(i0, i1 int) {
	h, s := t.history, &t.span
	t.health.count(h, i0+1, i1)
	for c := range h.channels {
		t.health.noise[c] = pressure.KPa(t.despike.sigma(c))
		t.health.lagKnown[c] = t.hoses[c].isKnownWell()
	}
	for i := i0 + 1; i <= i1+1; i++ {
		if h.flags[i]&gapFlag != 0 {
			s.Gap = true
			s.Missing += max(0, h.at(i)-h.at(i-1)-h.step)
		}
	}
	if s.Cycle && t.cycles%measureEvery == 0 {
		for c := range h.channels {
			t.health.flat[c]++
			if !t.health.hasFloor(h, c, i0, i1, float64(s.Lowest[c]), float64(s.Highest[c]),
				t.follow.template.kpa[c][:bins]) {
				t.health.flat[c], t.health.round[c] = 0, true
			}
		}
	}
	if c := t.health.watchShrinking(s); c >= 0 {
		t.hoses[c] = hose{} // another lag
	}
	t.health.judge(s)
	if s.Cycle {
		t.watchMisfires()
	}
}
