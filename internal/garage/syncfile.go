package garage

import (
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"

	"evendraw/internal/plain"
	"evendraw/internal/store"
)

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
	r.Format, r.Bike = newestFormat, g.cardName(p, bike)
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
	if _, err := loadSealed(path, &r); err != nil {
		return SyncRecord{}, err
	}
	return r, nil
}

// LoadForChange reads a record of which a changed one is to be saved: what this program does not know in it is kept.
func LoadForChange(path string) (SyncRecord, error) {
	var r SyncRecord
	body, err := loadSealed(path, &r)
	if err != nil {
		return SyncRecord{}, err
	}
	r.unknown = unknownIn(body, &r)
	return r, nil
}

// ListSyncs returns the records of a bike, the newest last, each with the number that stays its own, and apart the
// errors of files that are damaged. Those are left where they are. 2,000 records take half a second of processor time.
func (g *Garage) ListSyncs(bike string) (records []StoredSync, damaged []*Error) {
	return listOf(g, bike, func(p BikePaths) string { return p.Syncs }, LoadSync)
}

// recordEndings are those of the files of levelling records.
var recordEndings = []string{recordEnding, oldRecordEnding}

// IsRecord reports whether a file's name is that of a levelling record.
func IsRecord(name string) bool { return slices.Contains(recordEndings, filepath.Ext(name)) }

// AllSyncs returns the records of all bikes, by bike and time, those of bikes without a
// readable card as well, and apart the errors of files that are damaged.
func (g *Garage) AllSyncs() (records []StoredSync, damaged []*Error) {
	all, err := g.allPaths()
	if err != nil {
		damaged = append(damaged, store.AsError(g.Paths().Bikes, err))
	}
	for _, p := range all {
		some, wrong := list(p.Syncs, LoadSync)
		records, damaged = append(records, some...), append(damaged, wrong...)
	}
	return records, damaged
}

func (r *SyncRecord) format() int { return r.Format }

// clean turns the control characters in all texts of r into spaces, times into UTC,
// and what stands for unknown into NaN.
func (r *SyncRecord) clean() {
	cleanTexts(reflect.ValueOf(r).Elem())
	r.Time, r.Begun = r.Time.UTC(), r.Begun.UTC()
	r.Sensors, r.Effects = atMost(r.Sensors), atMost(r.Effects)
	r.PilotTurnsOut, r.Pilots = atMost(r.PilotTurnsOut), atMost(r.Pilots)
	r.Capture, r.Corrects = store.BaseName(r.Capture), store.BaseName(r.Corrects)
	if h := r.Halts; h != nil {
		h.FarTurned = atMost(h.FarTurned)
	}
	zeroIsUnknown(&r.Lambda)
	zeroIsUnknown(&r.StopEffectRPMPerTurn)
	for i := range r.Steps {
		zeroIsUnknown(&r.Steps[i].SpreadAfterKPa)
	}
	for i := range r.Effects {
		zeroIsUnknown(&r.Effects[i].NetTurns)
		zeroIsUnknown(&r.Effects[i].Factor)
	}
	for _, reading := range []*RecordReading{r.Before, r.After, r.Raised} {
		if reading != nil {
			reading.clean()
		}
	}
}

func (r *RecordReading) clean() {
	r.Cylinders = atMost(r.Cylinders)
	for i := range r.Cylinders {
		c := &r.Cylinders[i]
		if zeroIsUnknown(&c.OpeningRatio); math.IsNaN(float64(c.OpeningRatio)) {
			c.OpeningUncertainty = c.OpeningRatio
		}
	}
}

// atMost returns no more of a list than any bank has: what goes beyond is in no file that
// programs of ours wrote, and would only take time and memory.
func atMost[T any](list []T) []T { return list[:min(len(list), maxListEntries)] }

// zeroIsUnknown puts NaN in the place of 0, which stands for unknown where it can't be measured.
func zeroIsUnknown(v *plain.Number) {
	if *v == 0 {
		*v = plain.Unknown
	}
}
