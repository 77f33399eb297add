package garage

import (
	"math"
	"time"

	"evendraw/internal/balance"
	"evendraw/internal/plain"
	"evendraw/internal/pressure"
)

// Verdicts of a levelling record.
const (
	VerdictDone = "done" // the advice came to its end: the bank is level
	// VerdictDoubt is the same where something speaks against it: a cylinder's doubt, or a halt.
	VerdictDoubt = "done-in-doubt"
	VerdictSaved = "saved" // the user saved before that
	// VerdictUnfinished is that of a run which was cut off, and kept afterwards.
	VerdictUnfinished = "unfinished"
)

// Warmths of a levelling record. Nothing measures it.
const (
	WarmthSaid    = "said"        // the user said that it was as warm as after a ride
	WarmthAssumed = "assumed"     // its idle held, which a cold one's may too
	WarmthPassed  = "passed-over" // neither: the warm-up was passed over
)

// NullFloat is a number of a record. NaN is unknown, and null in the file.
type NullFloat = plain.Number

// NullKPa is a pressure of a record in kPa. NaN is unknown, and null in the file.
type NullKPa = plain.Number

// AmbientAssumed is the AmbientFrom of an air pressure that nobody has measured: the standard atmosphere's.
const AmbientAssumed = "standard"

// SyncRecord is what is kept of one synchronisation. In it, of a figure marked
// "0 unknown", 0 is taken for unknown as NaN is, and both are null in the file.
type SyncRecord struct {
	// Format is set by SaveSync.
	Format  int       `json:"format"`
	Program string    `json:"program"` // version of this program
	Time    time.Time `json:"time"`    // when it was saved; kept in UTC
	// Begun is when the run began; zero when unknown. Kept in UTC.
	Begun time.Time `json:"begun,omitzero"`
	// Bike is set by SaveSync: the name as it stands on the card.
	Bike string `json:"bike"`
	// Corrects is the file name of the record that this one stands for, "" when
	// it stands for itself. The corrected one stays where it is.
	Corrects string      `json:"corrects,omitempty"`
	Board    RecordBoard `json:"board"`
	// Sensors are the kinds by channel.
	Sensors []string `json:"sensors"`
	// Zero is the zero pass in force, Match the match pass; nil if there was none.
	Zero  *RecordZero  `json:"zero"`
	Match *RecordMatch `json:"match"`
	// Rig is the rest of what changes a reading, nil in records made before it was kept.
	Rig *RecordRig `json:"rig"`
	// AmbientKPa is the absolute air pressure that draws count from, and
	// AmbientFrom where it is from: zero-pass, user, AmbientAssumed, or "".
	AmbientKPa  NullKPa `json:"ambient_kpa"`
	AmbientFrom string  `json:"ambient_from"`
	// AltitudeM is that of the place, in metres above sea level; nil when it was not given.
	AltitudeM *float64     `json:"altitude_m"`
	Reference int          `json:"reference"` // cylinder, from 1
	Unit      string       `json:"unit"`      // that the user saw
	AimKPa    pressure.KPa `json:"aim_kpa"`
	LimitKPa  pressure.KPa `json:"limit_kpa"`
	// LevelBy is what was made alike, LevelByDraw or LevelByOpening; "" is draw.
	LevelBy string `json:"level_by,omitempty"`
	// Before is the first reading that could be trusted, After the last, and Raised
	// one at the raised speed; nil if there was none.
	Before *RecordReading `json:"before"`
	After  *RecordReading `json:"after"`
	Raised *RecordReading `json:"raised"`
	// Steps are the turns advised, in order.
	Steps []RecordStep `json:"steps"`
	// Halts are what the levelling was stopped for and was gone on past, nil for nothing.
	Halts *RecordHalts `json:"halts,omitempty"`
	// NutsUnconfirmed are the names of the screws that were turned and whose lock nuts nobody had said to be tight when
	// it was saved.
	NutsUnconfirmed []string `json:"nuts_unconfirmed,omitempty"`
	// Effects are what the screws were found to do.
	Effects []RecordEffect `json:"effects"`
	// IdleWanted is the idle speed's range as on the bike card; nil unknown.
	IdleWanted *RecordRange `json:"idle_wanted,omitempty"`
	// StopEffectRPMPerTurn is what the throttle stop does per clockwise turn; 0 unknown.
	StopEffectRPMPerTurn NullFloat `json:"stop_effect_rpm_per_turn"`
	// PilotScrews is FuelScrews, AirScrews or "" while unknown; PilotTurnsOut where the screws stand at the end, in
	// turns out from lightly seated, by cylinder, NaN unknown; nil when nothing is known of them.
	PilotScrews   string      `json:"pilot_screws"`
	PilotTurnsOut []NullFloat `json:"pilot_turns_out"`
	// Pilots are the pilot screws that were trimmed, also in part; nil where none was.
	Pilots []RecordPilot `json:"pilots,omitempty"`
	// Lambda is the mean at the end, by a wide-band probe; 0 unknown.
	Lambda NullFloat `json:"lambda"`
	// IdlingSeconds is how long the engine ran.
	IdlingSeconds float64 `json:"idling_s"`
	Verdict       string  `json:"verdict"` // one of the Verdicts
	// Warmth is what is known of the engine's: one of the Warmths, "" where nobody could say it.
	Warmth string `json:"warmth,omitempty"`
	// Temperature is the user's note on it, such as "warm, 20 °C outside".
	Temperature string `json:"temperature"`
	Note        string `json:"note"`
	// Capture is the file name of the capture in the bike's captures, "" if none was kept.
	// CaptureBytes is how much of it there was when the record was saved, and CaptureSHA256 the
	// checksum of that much, in small hexadecimal; a capture only grows.
	Capture       string `json:"capture"`
	CaptureBytes  int64  `json:"capture_bytes,omitempty"`
	CaptureSHA256 string `json:"capture_sha256,omitempty"`

	unknown []unknownKey
}

// RecordBoard is the board that measured.
type RecordBoard struct {
	Serial  string `json:"serial"`
	Model   string `json:"model"`
	Program string `json:"program"` // version of the board's program
}

// RecordRange is a range of speeds, in rpm.
type RecordRange struct {
	LowRPM  float64 `json:"low_rpm"`
	HighRPM float64 `json:"high_rpm"`
}

// RecordZero is the zero pass that was in force.
type RecordZero struct {
	Time       time.Time      `json:"time"`
	AmbientKPa pressure.KPa   `json:"ambient_kpa"`
	OffsetsKPa []pressure.KPa `json:"offsets_kpa"` // by channel
}

// RecordMatch is the match pass that was in force.
type RecordMatch struct {
	Time time.Time `json:"time"`
	// Gains are what the sensors' readings were divided by, by channel; 1 is none.
	Gains []float64 `json:"gains"`
}

// RecordPilot is how the trim of a pilot screw ended.
type RecordPilot struct {
	Cylinder int `json:"cylinder"`
	// Found is how it ended: at-peak, at-target, unsure, at-end, no-answer, unturned, or "trimming",
	// under way, or "to-set", its best known and the turn there not made.
	Found string `json:"found"`
	// StartTurnsOut is where it stood, in turns out from lightly seated, NaN unknown; MovedTurns
	// how far from there it stands, outwards positive.
	StartTurnsOut NullFloat `json:"start_turns_out"`
	MovedTurns    float64   `json:"moved_turns"`
	// BestTurns is where the idle was highest, as MovedTurns, and UncertaintyTurns the half-width of its 95 % interval.
	BestTurns        NullFloat `json:"best_turns"`
	UncertaintyTurns NullFloat `json:"uncertainty_turns"`
	Seconds          float64   `json:"seconds"`
	// OpenTurns is the turn that was told last and that nobody has confirmed, outwards positive; 0 is none. MovedTurns
	// does not count it.
	OpenTurns float64 `json:"open_turns,omitempty"`
}

// InTrial reports whether the screw was left off where it stood, in the middle of its trim.
func (p *RecordPilot) InTrial() bool {
	return p.MovedTurns != 0 && (p.Found == "trimming" || p.Found == "to-set" || p.Found == "unturned")
}

// RecordEffect is what a screw was found to do.
type RecordEffect struct {
	Screw string `json:"screw"`
	// KPaPerTurn is the change in draw of the cylinders it moves, per clockwise turn.
	KPaPerTurn NullFloat `json:"kpa_per_turn"`
	// NetTurns are those made of it in all, as seen, clockwise positive; 0 unknown.
	NetTurns NullFloat `json:"net_turns"`
	// Factor is by which factor either way KPaPerTurn may be off, by 95 %; unknown in earlier records.
	Factor NullFloat `json:"factor"`
}

// RecordHalts are what a levelling was stopped for.
type RecordHalts struct {
	// FarTurned are the names of the screws that were turned by more than two turns.
	FarTurned []string `json:"far_turned"`
	// IdleFell is set when the idle fell too far while screws were turned.
	IdleFell bool `json:"idle_fell"`
	// LowDraw is set where the engine drew very little for an idle.
	LowDraw bool `json:"low_draw,omitempty"`
	// PlayKPa is by how much each blip moved the bank: play in the linkage; 0 is none.
	PlayKPa float64 `json:"play_kpa,omitempty"`
	// FiresSaid is set instead where it was said that every cylinder fires.
	FiresSaid bool `json:"fires_said,omitempty"`
	// LookedAgain is set where one of the first two was so, was looked at, and is no more.
	LookedAgain bool `json:"looked_again,omitempty"`
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

// LeftOut returns the cylinders, from 1, that the spread leaves out: their channels did not measure them.
func (r *RecordReading) LeftOut() (cylinders []int) {
	for _, c := range r.Cylinders {
		if !balance.SoundWord(c.State) {
			cylinders = append(cylinders, c.Cylinder)
		}
	}
	return cylinders
}

// Known returns the reading, one of which nothing is known without.
func (r *RecordReading) Known() RecordReading {
	if r != nil {
		return *r
	}
	nan := NullFloat(math.NaN())
	return RecordReading{TimeS: nan, RPM: nan, SpreadKPa: nan, SpreadUncertaintyKPa: nan}
}

// Cylinder returns the cylinder of that number, from 1, one of which nothing is known where there is none.
func (r *RecordReading) Cylinder(n int) RecordCylinder {
	for _, c := range r.Cylinders {
		if c.Cylinder == n {
			return c
		}
	}
	nan := NullFloat(math.NaN())
	return RecordCylinder{Cylinder: n, DrawKPa: nan, DifferenceKPa: nan, UncertaintyKPa: nan, RippleKPa: nan,
		OpeningRatio: nan, OpeningUncertainty: nan}
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
	// OpeningRatio is the butterfly's opening over the reference's, 0 unknown, and
	// OpeningUncertainty the half-width of its 95 % interval.
	OpeningRatio       NullFloat `json:"opening_ratio"`
	OpeningUncertainty NullFloat `json:"opening_uncertainty"`
	// Doubt is why the cylinder looked ill, "" if it didn't.
	Doubt string `json:"doubt,omitempty"`
}

// RecordStep is one turn that was advised.
type RecordStep struct {
	TimeS     NullFloat `json:"time_s"` // seconds since the start of the stream
	Screw     string    `json:"screw"`
	Direction string    `json:"direction"` // clockwise, anticlockwise, or "" while unknown
	// Turns is how far, NaN when unknown.
	Turns           NullFloat `json:"turns"`
	SpreadBeforeKPa NullKPa   `json:"spread_before_kpa"` // of the first step that of Before
	SpreadAfterKPa  NullKPa   `json:"spread_after_kpa"`  // that of the next step, of the last that of After; 0 unknown
}

// ReadingRecord returns a reading as a record keeps it.
func ReadingRecord(r *balance.Reading) *RecordReading {
	out := &RecordReading{TimeS: NullFloat(r.Time), RPM: NullFloat(r.RPM), SpreadKPa: NullKPa(r.Spread),
		SpreadUncertaintyKPa: NullKPa(r.SpreadUncertainty), Cycles: r.Cycles}
	for _, c := range r.Cylinders {
		out.Cylinders = append(out.Cylinders, RecordCylinder{c.Cylinder, c.Channel, NullKPa(c.Draw),
			NullKPa(c.Difference),
			NullKPa(c.Uncertainty), NullKPa(c.Ripple), string(c.State), NullFloat(c.Opening),
			NullFloat(c.OpeningUncertainty), string(c.Doubt)})
	}
	return out
}

// SameJob reports whether two records are of one run of the program, as both say when it began.
func (r *SyncRecord) SameJob(o *SyncRecord) bool { return !r.Begun.IsZero() && r.Begun.Equal(o.Begun) }

// RecordRig is what of the rig changes a reading, beside the sensors' kinds, the zero and the match pass.
type RecordRig struct {
	Bits        int  `json:"bits"` // of the converter
	ReferenceMV int  `json:"reference_mv"`
	Ratiometric bool `json:"ratiometric"`
	Rate        int  `json:"rate"` // frames a second that the board announces
	// SupplyMV is the sensors' supply where the board is not ratiometric.
	SupplyMV int `json:"supply_mv"`
	// Channels are by cylinder, from cylinder 1.
	Channels []int `json:"channels"`
	// DriftKPa is by how much each cylinder's sensor had last been seen to have moved since the zero, the
	// engine being off; null where it was not.
	DriftKPa []NullKPa `json:"drift_kpa"`
	// CommonDriftKPa is the same of all together.
	CommonDriftKPa NullKPa `json:"common_drift_kpa"`
	// OffsetUncertaintyKPa are those of the zero pass, by channel.
	OffsetUncertaintyKPa []pressure.KPa `json:"offset_uncertainty_kpa"`
}
