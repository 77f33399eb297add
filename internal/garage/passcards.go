package garage

import (
	"math"
	"strconv"
	"time"

	"evendraw/internal/card"
	"evendraw/internal/pressure"
)

// ZeroCard is a zero pass as a board card keeps it. Slices are by channel.
type ZeroCard struct {
	Time time.Time // in UTC, to the second
	// AmbientKPa is the absolute air pressure, OffsetsKPa reading minus true pressure,
	// UncertaintyKPa the half-width of the offsets' 95 % interval, NoiseKPa the standard deviation
	// of the samples; the last two may be nil. All are kept to 0.000001 kPa.
	AmbientKPa                           pressure.KPa
	OffsetsKPa, UncertaintyKPa, NoiseKPa []pressure.KPa
	Samples                              int
	// Bits are the converter's then; 0 is unknown.
	Bits int
	// Sensors are the kinds at that time: with others the offsets are worth nothing.
	Sensors []string
}

// MatchCard is a match pass as a board card keeps it. Slices are by channel.
type MatchCard struct {
	Time time.Time // in UTC, to the second
	// AmbientKPa is the absolute air pressure at which the gains pivoted.
	AmbientKPa pressure.KPa
	// Gains are by how much each sensor's reading moves when the pressure moves by one; 1 is true, and
	// stands for channels that were left aside. UncertaintyGain is the half-width of the 95 % interval, 0
	// for those; ResidualKPa the scatter about the lines.
	Gains, UncertaintyGain []float64
	ResidualKPa            []pressure.KPa
	// LevelKPa is how far the common source was from the air pressure.
	LevelKPa pressure.KPa
	// Sensors are the kinds at that time: with others the gains are worth nothing.
	Sensors []string
}

// Bounds of a match pass on a card. Chosen: wider than any that is not refused.
const minGain, maxGain = 0.5, 2

// SaveZero puts a zero pass on the board's card. The one that was there goes to the end of the file
// as [[previous_zero]], of which the last five are kept; everything else stays as it is. Of b, only
// the serial counts when there is a card; otherwise one is made of it.
func (g *Garage) SaveZero(b *Board, z *ZeroCard) error {
	fresh := *b
	fresh.Zero = z
	return g.changeBoard(&fresh, zeroPasses.put(z))
}

// SaveMatch puts a match pass on the board's card as SaveZero does with a zero pass.
func (g *Garage) SaveMatch(b *Board, m *MatchCard) error {
	fresh := *b
	fresh.Match = m
	return g.changeBoard(&fresh, matchPasses.put(m))
}

// number6 writes a number to 0.000001.
func number6[T ~float64](v T) string { return card.Number(math.Round(float64(v)*1e6) / 1e6) }

func readZero(t card.Table) *ZeroCard {
	z := &ZeroCard{
		Time:           t.Moment("time"),
		AmbientKPa:     pressure.KPa(t.Number("ambient_kpa", minAmbient, maxAmbient, 0)),
		OffsetsKPa:     card.Numbers[pressure.KPa](t, "offsets_kpa", maxChannels, maxOffset),
		UncertaintyKPa: card.Numbers[pressure.KPa](t, "uncertainty_kpa", maxChannels, maxOffset),
		NoiseKPa:       card.Numbers[pressure.KPa](t, "noise_kpa", maxChannels, maxOffset),
		Samples:        t.Whole("samples", 0),
		Bits:           t.Whole("bits", 0),
		Sensors:        t.Texts("sensors", maxChannels),
	}
	if !t.Has("ambient_kpa") {
		t.Fail("ambient_kpa", "is missing")
	}
	sameLength(t, "offsets_kpa", len(z.OffsetsKPa), "uncertainty_kpa", len(z.UncertaintyKPa))
	sameLength(t, "offsets_kpa", len(z.OffsetsKPa), "noise_kpa", len(z.NoiseKPa))
	return z
}

func readMatch(t card.Table) *MatchCard {
	m := &MatchCard{
		Time:            t.Moment("time"),
		AmbientKPa:      pressure.KPa(t.Number("ambient_kpa", minAmbient, maxAmbient, 0)),
		Gains:           card.Numbers[float64](t, "gains", maxChannels, maxGain),
		UncertaintyGain: card.Numbers[float64](t, "uncertainty_gain", maxChannels, maxGain),
		ResidualKPa:     card.Numbers[pressure.KPa](t, "residual_kpa", maxChannels, maxOffset),
		LevelKPa:        pressure.KPa(t.Number("level_kpa", -maxOffset, maxOffset, 0)),
		Sensors:         t.Texts("sensors", maxChannels),
	}
	if !t.Has("ambient_kpa") {
		t.Fail("ambient_kpa", "is missing")
	}
	for _, g := range m.Gains {
		if g < minGain {
			t.Fail("gains", "%g is not from %g to %g", g, minGain, float64(maxGain))
		}
	}
	sameLength(t, "gains", len(m.Gains), "uncertainty_gain", len(m.UncertaintyGain))
	sameLength(t, "gains", len(m.Gains), "residual_kpa", len(m.ResidualKPa))
	return m
}

// sameLength refuses a list that is missing, and a second one of another length; that may be missing.
func sameLength(t card.Table, key string, n int, other string, m int) {
	switch {
	case n == 0:
		t.Fail(key, "is missing")
	case m != 0 && m != n:
		t.Fail(other, "holds %d values, %s %d", m, key, n)
	}
}

func zeroFields(z *ZeroCard) []card.Field {
	return []card.Field{
		{"time", z.Time.UTC().Format(time.RFC3339)},
		{"ambient_kpa", number6(z.AmbientKPa)},
		{"offsets_kpa", card.List(z.OffsetsKPa, number6)},
		{"uncertainty_kpa", card.List(z.UncertaintyKPa, number6)},
		{"noise_kpa", card.List(z.NoiseKPa, number6)},
		{"samples", strconv.Itoa(z.Samples)},
		{"bits", strconv.Itoa(z.Bits)},
		{"sensors", card.List(z.Sensors, card.Text)},
	}
}

func matchFields(m *MatchCard) []card.Field {
	return []card.Field{
		{"time", m.Time.UTC().Format(time.RFC3339)},
		{"ambient_kpa", number6(m.AmbientKPa)},
		{"gains", card.List(m.Gains, number6)},
		{"uncertainty_gain", card.List(m.UncertaintyGain, number6)},
		{"residual_kpa", card.List(m.ResidualKPa, number6)},
		{"level_kpa", number6(m.LevelKPa)},
		{"sensors", card.List(m.Sensors, card.Text)},
	}
}
