package garage

import (
	"encoding/json"
	"math"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/pressure"
)

// Verdicts of a sync record.
const (
	VerdictDone  = "done"  // the advice came to its end: the bank is level
	VerdictSaved = "saved" // the user saved before that
)

// NullFloat is a number of a record. NaN is unknown, and null in the file.
type NullFloat float64

// NullKPa is a pressure of a record in kPa. NaN is unknown, and null in the
// file.
type NullKPa pressure.KPa

// MarshalJSON writes null for what is no finite number.
func (v NullFloat) MarshalJSON() ([]byte, error) {
	if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(v))
}

// UnmarshalJSON reads null as NaN.
func (v *NullFloat) UnmarshalJSON(text []byte) error {
	f := math.NaN()
	if err := json.Unmarshal(text, &f); err != nil {
		return err
	}
	*v = NullFloat(f)
	return nil
}

// MarshalJSON writes null for what is no finite number.
func (v NullKPa) MarshalJSON() ([]byte, error) { return NullFloat(v).MarshalJSON() }

// UnmarshalJSON reads null as NaN.
func (v *NullKPa) UnmarshalJSON(text []byte) error { return (*NullFloat)(v).UnmarshalJSON(text) }

// SyncRecord is what is kept of one synchronisation.
type SyncRecord struct {
	// Format is set by SaveSync.
	Format  int       `json:"format"`
	Program string    `json:"program"` // version of this program
	Time    time.Time `json:"time"`    // when it was saved; kept in UTC
	// Bike is set by SaveSync: the name as it stands on the card.
	Bike  string      `json:"bike"`
	Board RecordBoard `json:"board"`
	// Sensors are the kinds by channel.
	Sensors []string `json:"sensors"`
	// Zero is the zero pass in force, nil if there was none.
	Zero *RecordZero `json:"zero"`
	// Match is the match pass in force, nil if there was none; Rig the rest of what changes a reading,
	// nil in records made before it was kept.
	Match *RecordMatch `json:"match"`
	Rig   *RecordRig   `json:"rig"`
	// AmbientKPa is the absolute air pressure that draws count from.
	AmbientKPa NullKPa      `json:"ambient_kpa"`
	Reference  int          `json:"reference"` // cylinder, from 1
	Unit       string       `json:"unit"`      // that the user saw
	AimKPa     pressure.KPa `json:"aim_kpa"`
	LimitKPa   pressure.KPa `json:"limit_kpa"`
	// Before is the first reading that could be trusted, After the last; nil
	// if there was none.
	Before *RecordReading `json:"before"`
	After  *RecordReading `json:"after"`
	// Steps are the turns advised, in order.
	Steps []RecordStep `json:"steps"`
	// IdlingSeconds is how long the engine ran.
	IdlingSeconds float64 `json:"idling_s"`
	Verdict       string  `json:"verdict"` // VerdictDone or VerdictSaved
	Note          string  `json:"note"`
	// Capture is the file name of the capture in the bike's captures, "" if
	// none was kept.
	Capture string `json:"capture"`
}

// RecordBoard is the board that measured.
type RecordBoard struct {
	Serial  string `json:"serial"`
	Model   string `json:"model"`
	Program string `json:"program"` // version of the board's program
}

// RecordZero is the zero pass that was in force.
type RecordZero struct {
	Time       time.Time      `json:"time"`
	AmbientKPa pressure.KPa   `json:"ambient_kpa"`
	OffsetsKPa []pressure.KPa `json:"offsets_kpa"` // by channel
}

// RecordReading is a reading as a record keeps it.
type RecordReading struct {
	TimeS     NullFloat `json:"time_s"` // seconds since the start of the stream
	RPM       NullFloat `json:"rpm"`
	SpreadKPa NullKPa   `json:"spread_kpa"`
	// SpreadUncertaintyKPa is the half-width of the 95 % interval.
	SpreadUncertaintyKPa NullKPa          `json:"spread_uncertainty_kpa"`
	Cycles               int              `json:"cycles"` // averaged over
	Cylinders            []RecordCylinder `json:"cylinders"`
}

// RecordCylinder is one cylinder of a reading.
type RecordCylinder struct {
	Cylinder      int     `json:"cylinder"` // from 1
	Channel       int     `json:"channel"`
	DrawKPa       NullKPa `json:"draw_kpa"`
	DifferenceKPa NullKPa `json:"difference_kpa"`
	// UncertaintyKPa is the half-width of the difference's 95 % interval.
	UncertaintyKPa NullKPa `json:"uncertainty_kpa"`
	RippleKPa      NullKPa `json:"ripple_kpa"`
	State          string  `json:"state"`
}

// RecordStep is one turn that was advised.
type RecordStep struct {
	TimeS     NullFloat `json:"time_s"` // seconds since the start of the stream
	Screw     string    `json:"screw"`
	Direction string    `json:"direction"` // clockwise, anticlockwise, or "" while unknown
	// Turns is how far, NaN when unknown.
	Turns           NullFloat `json:"turns"`
	SpreadBeforeKPa NullKPa   `json:"spread_before_kpa"`
}

// ReadingRecord returns a reading as a record keeps it.
func ReadingRecord(r *balance.Reading) *RecordReading {
	out := &RecordReading{TimeS: NullFloat(r.Time), RPM: NullFloat(r.RPM), SpreadKPa: NullKPa(r.Spread),
		SpreadUncertaintyKPa: NullKPa(r.SpreadUncertainty), Cycles: r.Cycles}
	for _, c := range r.Cylinders {
		out.Cylinders = append(out.Cylinders, RecordCylinder{c.Cylinder, c.Channel, NullKPa(c.Draw), NullKPa(c.Difference),
			NullKPa(c.Uncertainty), NullKPa(c.Ripple), string(c.State)})
	}
	return out
}

// StepRecord returns the advice of a reading, which must be one to turn a
// screw, as a record keeps it.
func StepRecord(r *balance.Reading) RecordStep {
	return RecordStep{NullFloat(r.Time), r.Advice.ScrewName, string(r.Advice.Direction), NullFloat(r.Advice.Turns), NullKPa(r.Spread)}
}

// StoredSync is a record and the file it came from.
type StoredSync struct {
	Path   string
	Record SyncRecord
}
