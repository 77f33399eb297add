package garage

import (
	"math"
	"os"
	"path/filepath"
	"slices"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// syncFormat is the format number of the records that this program writes. Keys
// came to it since, which older programs read past.
const syncFormat = 1

// SaveSync writes a record to a file of its own among the bike's and returns its path. Format, Bike
// and, when it is zero, Time are filled in, and the checksum of a capture among the bike's where
// the record has none; control characters in texts become spaces. No record is ever overwritten.
func (g *Garage) SaveSync(bike string, rec *SyncRecord) (path string, err error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	summed := *rec
	summed.sumCapture(p.Captures)
	r := g.prepareSync(p, bike, &summed)
	number := numbersIn(recordEndings, p.Syncs).next()
	return g.saveSealed(p.Syncs, recordEnding, r.Time, number, &r, r.unknown)
}

// sumCapture fills in the checksum of as much of the capture as there is by now. One that is
// kept elsewhere, or can't be read, has none: the record counts for more.
func (r *SyncRecord) sumCapture(dir string) {
	if r.Capture == "" || r.CaptureSHA256 != "" {
		return
	}
	path := filepath.Join(dir, store.BaseName(plain.Lines(r.Capture)))
	info, err := os.Stat(path)
	if err != nil {
		return
	}
	if sum, err := sumOf(path, info.Size()); err == nil {
		r.CaptureBytes, r.CaptureSHA256 = info.Size(), sum
	}
}

// prepareSync returns a record as it is saved.
func (g *Garage) prepareSync(p BikePaths, bike string, rec *SyncRecord) SyncRecord {
	r := *rec
	r.Format, r.Bike = syncFormat, g.cardName(p, bike)
	if r.Time.IsZero() {
		r.Time = g.now()
	}
	r.clean()
	return r
}

// cardName returns a bike's name as it stands on its card.
func (g *Garage) cardName(p BikePaths, bike string) string {
	if b, err := readBike(p.Card); err == nil {
		return b.Name
	}
	name, _ := cleanName(bike)
	return name
}

// LoadSync reads the record in a file. An Error says what is wrong with it: it was changed or cut
// short, or a newer program wrote it.
func LoadSync(path string) (SyncRecord, error) {
	var r SyncRecord
	if _, err := loadSealed(path, syncFormat, &r); err != nil {
		return SyncRecord{}, err
	}
	return r, nil
}

// LoadForChange reads a record of which a changed one is to be saved: what this program does not know in it is kept.
func LoadForChange(path string) (SyncRecord, error) {
	var r SyncRecord
	body, err := loadSealed(path, syncFormat, &r)
	if err != nil {
		return SyncRecord{}, err
	}
	r.unknown = unknownIn(body, &r)
	return r, nil
}

// ListSyncs returns the records of a bike, the newest last, each with the number that stays its own, and apart the
// errors of files that are damaged. Those are left where they are. 2,000 records take half a second of processor time.
func (g *Garage) ListSyncs(bike string) (records []StoredSync, damaged []*Error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return nil, []*Error{store.AsError("", err)}
	}
	return listSyncs(p.Syncs)
}

// recordEndings are those of the files of levelling records.
var recordEndings = []string{recordEnding, oldRecordEnding}

// IsRecord reports whether a file's name is that of a levelling record.
func IsRecord(name string) bool { return slices.Contains(recordEndings, filepath.Ext(name)) }

func listSyncs(dir string) (records []StoredSync, damaged []*Error) {
	all := numbersIn(recordEndings, dir)
	records, damaged = store.List(dir, recordEndings, func(path string) (StoredSync, error) {
		r, err := LoadSync(path)
		return StoredSync{path, r, all.of(path)}, err
	})
	byTime(records, (*StoredSync).Filed)
	return records, damaged
}

// AllSyncs returns the records of all bikes, by bike and time, those of bikes without a
// readable card as well, and apart the errors of files that are damaged.
func (g *Garage) AllSyncs() (records []StoredSync, damaged []*Error) {
	all, err := g.allPaths()
	if err != nil {
		damaged = append(damaged, store.AsError(g.Paths().Bikes, err))
	}
	for _, p := range all {
		some, wrong := listSyncs(p.Syncs)
		records, damaged = append(records, some...), append(damaged, wrong...)
	}
	return records, damaged
}

func (r *SyncRecord) format() int { return r.Format }

// clean turns the control characters in all texts of r into spaces, times into UTC,
// and what stands for unknown into NaN.
func (r *SyncRecord) clean() {
	r.Time, r.Begun = r.Time.UTC(), r.Begun.UTC()
	r.Sensors, r.Steps, r.Effects = slices.Clone(atMost(r.Sensors)), slices.Clone(r.Steps),
		slices.Clone(atMost(r.Effects))
	r.PilotTurnsOut, r.Pilots = atMost(r.PilotTurnsOut), slices.Clone(atMost(r.Pilots))
	r.Before, r.After, r.Raised = r.Before.cleaned(), r.After.cleaned(), r.Raised.cleaned()
	cleanAll(&r.Program, &r.Bike, &r.Board.Serial, &r.Board.Model, &r.Board.Program, &r.Unit, &r.Verdict, &r.Warmth,
		&r.Note, &r.Capture,
		&r.Corrects, &r.AmbientFrom, &r.LevelBy, &r.PilotScrews, &r.Temperature, &r.CaptureSHA256)
	for i := range r.Sensors {
		cleanAll(&r.Sensors[i])
	}
	for i := range r.Pilots {
		cleanAll(&r.Pilots[i].Found)
	}
	for i := range r.Steps {
		s := &r.Steps[i]
		cleanAll(&s.Screw, &s.Direction)
		s.SpreadAfterKPa = NullKPa(unknownZero(NullFloat(s.SpreadAfterKPa)))
	}
	for i := range r.Effects {
		cleanAll(&r.Effects[i].Screw)
		r.Effects[i].NetTurns = unknownZero(r.Effects[i].NetTurns)
	}
	if h := r.Halts; h != nil {
		r.Halts = &RecordHalts{FarTurned: slices.Clone(atMost(h.FarTurned)), IdleFell: h.IdleFell, LowDraw: h.LowDraw,
			FiresSaid: h.FiresSaid, LookedAgain: h.LookedAgain}
		for i := range r.Halts.FarTurned {
			cleanAll(&r.Halts.FarTurned[i])
		}
	}
	r.Lambda, r.StopEffectRPMPerTurn = unknownZero(r.Lambda), unknownZero(r.StopEffectRPMPerTurn)
	if m := r.AltitudeM; m != nil && (math.IsNaN(*m) || math.IsInf(*m, 0)) {
		r.AltitudeM = nil
	}
	r.Capture, r.Corrects = store.BaseName(r.Capture), store.BaseName(r.Corrects)
}

// atMost returns no more of a list than any bank has: what goes beyond is in no file that
// programs of ours wrote, and would only take time and memory.
func atMost[T any](list []T) []T { return list[:min(len(list), maxListEntries)] }

// unknownZero returns NaN for 0, which stands for unknown where it can't be measured.
func unknownZero(v NullFloat) NullFloat {
	if v == 0 {
		return NullFloat(math.NaN())
	}
	return v
}

func (r *RecordReading) cleaned() *RecordReading {
	if r == nil {
		return nil
	}
	c := *r
	c.Cylinders = slices.Clone(atMost(r.Cylinders))
	for i := range c.Cylinders {
		y := &c.Cylinders[i]
		y.State, y.Doubt = plain.Lines(y.State), plain.Lines(y.Doubt)
		if y.OpeningRatio = unknownZero(y.OpeningRatio); math.IsNaN(float64(y.OpeningRatio)) {
			y.OpeningUncertainty = y.OpeningRatio
		}
	}
	return &c
}
