package garage

import (
	"path/filepath"
	"slices"
	"strconv"

	"evendraw/internal/card"
	"evendraw/internal/store"
)

// Board is what a board card says.
type Board struct {
	// Serial and Model are as the board announces them.
	Serial, Model string
	// Sensors are the names of the sensors' kinds by channel; nil is the usual kind on all. They are not checked here.
	Sensors []string
	// SupplyMV is the sensors' supply in mV, where it is not the converter's reference; default 5000.
	SupplyMV int
	// Hoses is the channel of each hose, hose 1 first, as found by touching them; nil is channel 0 on, in order.
	Hoses []int
	// WarmUpMin is after how many minutes of a running engine the sensors have warmed so that
	// a new zero pass is asked for; 0 is DefaultWarmUpMin.
	WarmUpMin float64
	// Zero is the last zero pass, nil if there was none; PreviousZeros those before it, oldest first.
	Zero          *ZeroCard
	PreviousZeros []*ZeroCard
	// Match is the last match pass, nil if there was none; PreviousMatches as with zero passes.
	Match           *MatchCard
	PreviousMatches []*MatchCard
	// Lambda is the controller of a wide-band probe, nil if there is none.
	Lambda *LambdaCard
	// Unknown are the keys on the card that mean nothing here, in quotes.
	Unknown []string
}

// Bounds of a board card's figures. Chosen: the supply's are the protocol's; ambient
// is wider than any weather on land, offsets than any sensor.
const (
	defaultSupplyMV          = 5000
	minSupplyMV, maxSupplyMV = 500, 10_000
	minAmbient, maxAmbient   = 30, 120
	maxOffset                = 200
	maxChannels              = 8
	maxWarmUpMin             = 240
)

// DefaultWarmUpMin is the minutes of a running engine after which a board's sensors have warmed.
// Chosen: sensors beside a warming engine take some.
const DefaultWarmUpMin = 10

// DefaultBoard returns what is assumed of a board without a card.
func DefaultBoard(serial string) Board { return Board{Serial: serial, SupplyMV: defaultSupplyMV} }

// LoadBoard returns the card of the board with that serial, DefaultBoard if there is none. An Error
// names the file, the line and the field of what is wrong.
func (g *Garage) LoadBoard(serial string) (Board, error) {
	path, err := g.BoardPath(serial)
	if err != nil {
		return Board{}, err
	}
	text, err := store.ReadIfThere(path)
	if err != nil {
		return Board{}, err
	}
	if text == nil {
		return DefaultBoard(serial), nil
	}
	_, b, err := parseBoard(path, text)
	if err == nil && b.Serial != serial {
		return Board{}, problem(path, "serial", "%q is on the card, but the file is that of %q", b.Serial, serial)
	}
	return b, err
}

// parseBoard reads the text of a card.
func parseBoard(path string, text []byte) (*card.Card, Board, error) {
	return parseCard(path, text, boardOf)
}

// boardOf reads a card whose format is known.
func boardOf(t card.Table) Board {
	b := DefaultBoard(t.Text("serial", card.MaxTextBytes))
	if _, err := boardFile(b.Serial); err != nil {
		t.Fail("serial", "%s", store.AsError("", err).Problem)
	}
	b.Model = t.Text("model", card.MaxTextBytes)
	b.Sensors = t.Texts("sensors", maxChannels)
	b.SupplyMV = int(t.Number("supply_mv", minSupplyMV, maxSupplyMV, defaultSupplyMV))
	b.Hoses = t.Wholes("hoses", maxChannels)
	checkHoses(t, b.Hoses)
	b.WarmUpMin = t.Number("warm_up_min", 0, maxWarmUpMin, 0)
	b.Zero, b.PreviousZeros = zeroPasses.read(t)
	b.Match, b.PreviousMatches = matchPasses.read(t)
	if t.Has("lambda") {
		b.Lambda = readLambda(t)
	}
	b.Unknown = t.Unknown()
	return b
}

// checkHoses refuses a list that names a channel twice, or one that no board has.
func checkHoses(t card.Table, hoses []int) {
	for i, c := range hoses {
		if c < 0 || c >= maxChannels || slices.Contains(hoses[:i], c) {
			t.Fail("hoses", "holds channel %d twice, or one that no board has", c)
		}
	}
}

// changeBoard does ops to the card of fresh's board, and leaves everything else on it as it is; without
// a card, one is made of fresh.
func (g *Garage) changeBoard(fresh *Board, ops func(c *card.Card) []card.Op) error {
	b := *fresh
	if b.SupplyMV == 0 {
		b.SupplyMV = defaultSupplyMV
	}
	path, err := g.BoardPath(b.Serial)
	if err != nil {
		return err
	}
	text := boardText(&b)
	if _, _, err := parseBoard("", text); err != nil {
		return ofNoFile(err)
	}
	if _, err := g.LoadBoard(b.Serial); err != nil {
		return err
	}
	return g.disk.Edit(path, func(old []byte) ([]byte, error) {
		if old == nil {
			return text, nil
		}
		return editBoard(path, old, ops)
	})
}

// editBoard returns a card's text with ops done to it.
func editBoard(path string, text []byte, ops func(c *card.Card) []card.Op) ([]byte, error) {
	c, _, err := parseBoard(path, text)
	if err != nil {
		return nil, err
	}
	return edited(path, c, boardOf, ops(c))
}

// SaveRig puts what b says of its sensors and hoses on the board's card, and leaves everything else
// there as it is; without a card one is made of b.
func (g *Garage) SaveRig(b *Board) error {
	return g.changeBoard(b, func(*card.Card) (ops []card.Op) {
		if b.Sensors != nil {
			ops = append(ops, card.SetAfter("serial", "sensors", card.List(b.Sensors, card.Text)))
		}
		if b.Hoses != nil {
			ops = append(ops, card.SetAfter("serial", "hoses", card.List(b.Hoses, strconv.Itoa)))
		}
		return ops
	})
}

// ListBoards returns the boards of all cards, sorted by file name, and apart the errors of those that can't be read.
func (g *Garage) ListBoards() (boards []Board, damaged []*Error) {
	return store.List(g.Paths().Boards, []string{cardEnding}, func(path string) (Board, error) {
		text, err := store.Read(path)
		if err != nil {
			return Board{}, err
		}
		_, b, err := parseBoard(path, text)
		if name, _ := boardFile(b.Serial); err == nil && name != filepath.Base(path) {
			err = problem(path, "serial", "%q is on the card, whose file would be %s", b.Serial, name)
		}
		return b, err
	})
}
