package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
)

// Board is what a board card says.
type Board struct {
	// Serial and Model are as the board announces them.
	Serial, Model string
	// Sensors are the names of the sensors' kinds by channel; nil is the usual
	// kind on all. They are not checked here.
	Sensors []string
	// SupplyMV is the sensors' supply in mV, where it is not the converter's
	// reference; default 5000.
	SupplyMV int
	// Hoses is the channel of each hose, hose 1 first, as found by touching them; nil is
	// channel 0 on, in order.
	Hoses []int
	// WarmUpMin is after how many minutes of a running engine the sensors have warmed so that
	// a new zero pass is asked for; 0 is DefaultWarmUpMin.
	WarmUpMin float64
	// Zero is the last zero pass, nil if there was none; PreviousZeros those before it,
	// oldest first.
	Zero          *ZeroCard
	PreviousZeros []*ZeroCard
	// Match is the last match pass, nil if there was none; PreviousMatches as with zero passes.
	Match           *MatchCard
	PreviousMatches []*MatchCard
	// Lambda is the controller of a wide-band probe, nil if there is none.
	Lambda *LambdaCard
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

// LoadBoard returns the card of the board with that serial, DefaultBoard if
// there is none. An Error names the file, the line and the field of what is
// wrong.
func (g *Garage) LoadBoard(serial string) (Board, error) {
	path, err := g.BoardPath(serial)
	if err != nil {
		return Board{}, err
	}
	text, err := readIfThere(path)
	if err != nil {
		return Board{}, err
	}
	if text == nil {
		return DefaultBoard(serial), nil
	}
	_, b, err := parseBoard(path, text)
	if err == nil && b.Serial != serial {
		return Board{}, &Error{Path: path, Field: "serial", Problem: fmt.Sprintf("%q is on the card, but the file is that of %q", b.Serial, serial)}
	}
	return b, err
}

// parseBoard reads the text of a card.
func parseBoard(path string, text []byte) (*doc, Board, error) {
	d, err := parseDoc(path, text)
	if err != nil {
		return nil, Board{}, err
	}
	t := d.root()
	t.format()
	if d.err != nil {
		return nil, Board{}, d.err
	}
	b := DefaultBoard(t.text("serial", maxTextBytes))
	if _, err := boardFile(b.Serial); err != nil {
		t.fail("serial", "%s", asError("", err).Problem)
	}
	b.Model = t.text("model", maxTextBytes)
	b.Sensors = t.texts("sensors", maxChannels)
	if t.has("supply_mv") {
		b.SupplyMV = int(t.number("supply_mv", minSupplyMV, maxSupplyMV, 0))
	}
	b.Hoses = t.wholes("hoses", maxChannels)
	checkHoses(t, b.Hoses)
	if t.has("warm_up_min") {
		b.WarmUpMin = t.number("warm_up_min", 0, maxWarmUpMin, 0)
	}
	b.Zero, b.PreviousZeros = zeroPasses.read(t)
	b.Match, b.PreviousMatches = matchPasses.read(t)
	if t.has("lambda") {
		b.Lambda = readLambda(t)
	}
	if d.err != nil {
		return nil, Board{}, d.err
	}
	return d, b, nil
}

// checkHoses refuses a list that names a channel twice, or one that no board has.
func checkHoses(t table, hoses []int) {
	for i, c := range hoses {
		if c < 0 || c >= maxChannels || slices.Contains(hoses[:i], c) {
			t.fail("hoses", "holds channel %d twice, or one that no board has", c)
		}
	}
}

// NewBoard writes the card of a board that has none yet; otherwise the error
// is fs.ErrExist.
func (g *Garage) NewBoard(b *Board) error {
	text, path, err := g.newBoardText(b)
	if err != nil {
		return err
	}
	return g.edit(path, func(old []byte) ([]byte, error) {
		if old != nil {
			return nil, &Error{Path: path, Problem: "was left as it is", Err: fs.ErrExist}
		}
		return text, nil
	})
}

// newBoardText returns the card of a board that can be kept, its path, and
// makes its folder.
func (g *Garage) newBoardText(b *Board) (text []byte, path string, err error) {
	path, err = g.BoardPath(b.Serial)
	if err != nil {
		return nil, "", err
	}
	text = boardText(b)
	if _, _, err := parseBoard("", text); err != nil {
		e := *asError("", err)
		e.Line = 0 // there is no file to look at
		return nil, "", &e
	}
	if err := makeDirs(g.files, filepath.Dir(path)); err != nil {
		return nil, "", notSaved(path, err)
	}
	return text, path, nil
}

// ListBoards returns the boards of all cards, sorted by file name, and apart
// the errors of those that can't be read.
func (g *Garage) ListBoards() (boards []Board, damaged []*Error) {
	paths, err := filesIn(g.Paths().Boards, cardEnding)
	if err != nil {
		damaged = append(damaged, asError(g.Paths().Boards, err))
	}
	for _, path := range paths {
		text, err := readFile(path)
		var b Board
		if err == nil {
			_, b, err = parseBoard(path, text)
		}
		if name, _ := boardFile(b.Serial); err == nil && name != filepath.Base(path) {
			err = &Error{Path: path, Field: "serial", Problem: fmt.Sprintf("%q is on the card, whose file would be %s", b.Serial, name)}
		}
		switch {
		case errors.Is(err, fs.ErrNotExist): // removed meanwhile
		case err != nil:
			damaged = append(damaged, asError(path, err))
		default:
			boards = append(boards, b)
		}
	}
	return boards, damaged
}
