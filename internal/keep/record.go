package keep

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"evendraw/internal/advice"
	"evendraw/internal/balance"
	"evendraw/internal/garage"
	"evendraw/internal/session"
	"evendraw/internal/tell"
)

// ambientFrom is what a record calls the sources of the air pressure.
var ambientFrom = map[session.AmbientFrom]string{session.FromZeroPass: "zero-pass", session.FromUser: "user",
	session.FromStandard: garage.AmbientAssumed}

// record fills in a record.
func (k *Keeper) record(snap *session.Snapshot) *garage.SyncRecord {
	cfg := &snap.Config
	aim, limit := k.set.Limits()
	rec := &garage.SyncRecord{
		Program: k.set.Version, Time: time.Now(), Begun: k.begun, AmbientKPa: garage.NullKPa(cfg.Ambient),
		AmbientFrom: ambientFrom[cfg.AmbientFrom],
		Reference:   snap.Reading.Reference, Unit: k.unit, AimKPa: aim, LimitKPa: limit,
		After:         garage.ReadingRecord(snap.Reading),
		Steps:         syncSteps(&snap.Journal),
		LevelBy:       string(cfg.LevelBy),
		IdlingSeconds: snap.Journal.Idling, Verdict: garage.VerdictSaved, Warmth: k.warmth,
		Note: remarkOf(k.note, k.findings()), NutsUnconfirmed: k.nuts,
	}
	rec.Effects = k.effects(snap)
	if snap.Board != nil {
		rec.Board = garage.RecordBoard{Serial: snap.Board.Serial, Model: snap.Board.Model, Program: snap.Board.Program}
		rec.Sensors = cfg.Setup.KindNames(len(snap.Board.Channels))
	}
	if b := k.set.Bike; b != nil && k.opt.Own == Bike {
		rec.PilotScrews, rec.AltitudeM = b.PilotScrews, b.AltitudeM
	}
	addTune(rec, snap)
	if t := snap.Tune.Raised; t != nil && t.Done {
		rec.Raised = raisedRecord(&t.Raised, snap)
	}
	if snap.Journal.Before != nil {
		rec.Before = comparedWith(snap.Reading.Reference, snap.Journal.Before)
	}
	if cfg.Zeroed {
		at := cfg.ZeroedAt
		if snap.Zero.Result != nil {
			at = k.zeroAt
		}
		rec.Zero = &garage.RecordZero{Time: at, AmbientKPa: cfg.Ambient, OffsetsKPa: cfg.Setup.Offsets}
	}
	addBoard(rec, snap)
	if snap.Reading.Advice.Kind == advice.Done {
		rec.Verdict = verdictDone(snap.Reading)
	}
	stale := k.usable != nil && snap.Reading == k.usable.Reading && turnedSince(k.usable, snap)
	if stale || snap.Reading.RPM > snap.MostIdleRPM() { // a record is of the idle since the last turn
		rec.After, rec.Verdict = nil, garage.VerdictSaved
	}
	unsure(cfg.Zeroed, rec.Before, rec.After, rec.Raised)
	spreadsAfter(rec)
	addHalts(rec, snap)
	if k.capture != "" {
		rec.Capture = filepath.Base(k.capture)
	}
	return rec
}

// effects are what the screws were found to do, with how sure that is, and how far they were turned.
func (k *Keeper) effects(snap *session.Snapshot) (effects []garage.RecordEffect) {
	turned := snap.Turned
	if k.opt.Practice != nil { // which knows it better than it is seen
		turned = k.opt.Practice.Engine.Truth().ScrewTurns
	}
	for i, e := range snap.Effects {
		if e != 0 {
			effects = append(effects, garage.RecordEffect{Screw: snap.Bank.Screws[i].Name,
				KPaPerTurn: garage.NullFloat(e), NetTurns: garage.NullFloat(turned[i]),
				Factor: garage.NullFloat(snap.EffectFactors[i])})
		}
	}
	return effects
}

// noteNuts notes which lock nuts are not confirmed tight: the newest reading knows it, whichever goes into the record.
func (k *Keeper) noteNuts(snap *session.Snapshot) {
	if snap.Reading != nil {
		k.nuts = tell.NutsUnconfirmed(snap.Reading, &snap.Bank, k.opt.NutsSeen)
	}
}

// verdictDone is the verdict on a bank that reads level.
func verdictDone(r *balance.Reading) string {
	ill := func(c balance.Cylinder) bool { return c.Doubt != "" }
	if r.Halts.Doubt() || slices.ContainsFunc(r.Cylinders, ill) {
		return garage.VerdictDoubt
	}
	return garage.VerdictDone
}

// comparedWith is a reading as a record keeps it, compared with a cylinder that may be another than it was of.
func comparedWith(reference int, r *balance.Reading) *garage.RecordReading {
	out := garage.ReadingRecord(r)
	if r.Reference == reference || reference < 1 || reference > len(out.Cylinders) {
		return out
	}
	to := out.Cylinders[reference-1]
	for i := range out.Cylinders {
		c := &out.Cylinders[i]
		c.DifferenceKPa -= to.DifferenceKPa
		c.UncertaintyKPa = garage.NullKPa(math.Hypot(float64(c.UncertaintyKPa), float64(to.UncertaintyKPa)))
		c.OpeningRatio, c.OpeningUncertainty = c.OpeningRatio/to.OpeningRatio, garage.NullFloat(math.NaN())
	}
	out.Cylinders[reference-1].UncertaintyKPa = 0
	return out
}

// unsure takes from readings without a zero pass how sure they are: nobody knows.
func unsure(zeroed bool, readings ...*garage.RecordReading) {
	nan := garage.NullKPa(math.NaN())
	for _, r := range readings {
		if zeroed || r == nil {
			continue
		}
		r.SpreadUncertaintyKPa = nan
		for i := range r.Cylinders {
			r.Cylinders[i].UncertaintyKPa = nan
		}
	}
}

// addHalts notes what the levelling was stopped for.
func addHalts(rec *garage.SyncRecord, snap *session.Snapshot) {
	h := &snap.Reading.Halts
	if *h == (balance.Halts{}) {
		return
	}
	rec.Halts = &garage.RecordHalts{IdleFell: h.IdleFell, LowDraw: h.LowDraw, FiresSaid: h.FiresSaid,
		LookedAgain: h.LookedAgain, FarTurned: snap.Bank.ScrewNames(h.Far), PlayKPa: float64(h.Play)}
}

// syncSteps are a journal's steps as a record keeps them.
func syncSteps(j *session.Journal) []garage.RecordStep {
	var out []garage.RecordStep
	for _, s := range j.Steps {
		out = append(out, garage.RecordStep{TimeS: garage.NullFloat(s.Time), Screw: s.Advice.ScrewName,
			Direction: string(s.Advice.Direction), Turns: garage.NullFloat(s.Advice.Turns),
			SpreadBeforeKPa: garage.NullKPa(s.Spread), SpreadAfterKPa: garage.NullKPa(math.NaN())})
	}
	return out
}

// spreadsAfter fills in the spread after each turn: that which led to the next, and behind the last that of the bank
// as it was left.
func spreadsAfter(rec *garage.SyncRecord) {
	for i := range rec.Steps {
		switch {
		case i+1 < len(rec.Steps):
			rec.Steps[i].SpreadAfterKPa = rec.Steps[i+1].SpreadBeforeKPa
		case rec.After != nil:
			rec.Steps[i].SpreadAfterKPa = rec.After.SpreadKPa
		}
	}
}

// remarkOf joins what the user wrote with what was found, "" for nothing.
func remarkOf(note, found string) string {
	if note != "" && found != "" && !strings.ContainsAny(note[len(note)-1:], ".!?") {
		note += "."
	}
	return strings.TrimSpace(note + " " + found)
}

// findings are what was found and mended at a practice engine, "" for nothing.
func (k *Keeper) findings() string {
	if k.opt.Practice == nil {
		return ""
	}
	return k.opt.Practice.Found()
}

// engine names the practice engine, "" for one without a story.
func (k *Keeper) engine() string {
	if k.opt.Practice == nil {
		return ""
	}
	return k.opt.Practice.Named()
}

// Nuts says which lock nuts are not confirmed tight, "" for none.
func (k *Keeper) Nuts() string {
	k.mu.Lock()
	defer k.mu.Unlock()
	return tell.NutsWords(k.nuts)
}

// addBoard puts what of the board and its sensors changes a reading into a record.
func addBoard(rec *garage.SyncRecord, snap *session.Snapshot) {
	cfg := &snap.Config
	if len(cfg.Setup.Gains) > 0 {
		rec.Match = &garage.RecordMatch{Time: cfg.MatchedAt.UTC().Truncate(time.Second), Gains: cfg.Setup.Gains}
	}
	a := snap.Board
	if a == nil {
		return
	}
	rec.Rig = &garage.RecordRig{Bits: a.Bits, ReferenceMV: a.ReferenceMV, Ratiometric: a.Ratiometric, Rate: a.Rate,
		SupplyMV: cfg.Setup.SupplyMV,
		Channels: snap.Bank.Channels, OffsetUncertaintyKPa: cfg.ZeroUncertainty,
		CommonDriftKPa: garage.NullKPa(math.NaN())}
	if d := &snap.Drift; d.Seen {
		rec.Rig.CommonDriftKPa = garage.NullKPa(d.Common)
		for _, channel := range snap.Bank.Channels {
			rec.Rig.DriftKPa = append(rec.Rig.DriftKPa, garage.NullKPa(d.Own[channel]))
		}
	}
}
