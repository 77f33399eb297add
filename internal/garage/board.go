package garage

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"time"

	"evendraw/internal/pressure"
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
	// Zero is the last zero pass, nil if there was none.
	Zero *ZeroCard
	// Lambda is the controller of a wide-band probe, nil if there is none.
	Lambda *LambdaCard
}

// ZeroCard is a zero pass as a board card keeps it. Slices are by channel.
type ZeroCard struct {
	Time time.Time // in UTC, to the second
	// AmbientKPa is the absolute air pressure, OffsetsKPa reading minus
	// true pressure, UncertaintyKPa the half-width of the offsets' 95 %
	// interval, which may be nil. All are kept to 0.000001 kPa.
	AmbientKPa                 pressure.KPa
	OffsetsKPa, UncertaintyKPa []pressure.KPa
	Samples                    int
	// Sensors are the kinds at that time: with others the offsets are worth
	// nothing.
	Sensors []string
}

// Bounds of a board card's figures. Chosen: the supply's are the protocol's; ambient
// is wider than any weather on land, offsets than any sensor.
const (
	defaultSupplyMV          = 5000
	minSupplyMV, maxSupplyMV = 500, 10_000
	minAmbient, maxAmbient   = 30, 120
	maxOffset                = 200
	maxChannels              = 8
	// keptZeros is how many zero passes are kept beside the last.
	keptZeros = 5
)

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
	if t.has("zero") {
		z, ok := t.values["zero"].(map[string]any)
		if _, known := d.places["zero"]; !ok || !known {
			t.fail("zero", "is to be written as a [zero] table")
		} else {
			b.Zero = readZero(table{d, "zero", " of zero", z})
		}
	}
	if t.has("lambda") {
		b.Lambda = readLambda(t)
	}
	for _, old := range t.tables("previous_zero", math.MaxInt) {
		readZero(old)
	}
	if d.err != nil {
		return nil, Board{}, d.err
	}
	return d, b, nil
}

func readZero(t table) *ZeroCard {
	z := &ZeroCard{
		Time:           t.moment("time"),
		AmbientKPa:     pressure.KPa(t.number("ambient_kpa", minAmbient, maxAmbient, 0)),
		OffsetsKPa:     numbers[pressure.KPa](t, "offsets_kpa", maxChannels, maxOffset),
		UncertaintyKPa: numbers[pressure.KPa](t, "uncertainty_kpa", maxChannels, maxOffset),
		Samples:        t.whole("samples"),
		Sensors:        t.texts("sensors", maxChannels),
	}
	switch {
	case !t.has("ambient_kpa"):
		t.fail("ambient_kpa", "is missing")
	case len(z.OffsetsKPa) == 0:
		t.fail("offsets_kpa", "is missing")
	case z.UncertaintyKPa != nil && len(z.UncertaintyKPa) != len(z.OffsetsKPa):
		t.fail("uncertainty_kpa", "holds %d values, offsets_kpa %d", len(z.UncertaintyKPa), len(z.OffsetsKPa))
	}
	return z
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
			return nil, &Error{Path: path, Problem: "is there already and was left as it is", Err: fs.ErrExist}
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

// SaveZero puts a zero pass on the board's card. The one that was there goes to the
// end of the file as [[previous_zero]], of which the last five are kept;
// everything else stays as it is. Of b, only the serial counts when there is a card;
// otherwise one is made of it.
func (g *Garage) SaveZero(b *Board, z *ZeroCard) error {
	fresh := *b
	fresh.Zero = z.rounded()
	if fresh.SupplyMV == 0 {
		fresh.SupplyMV = defaultSupplyMV
	}
	text, path, err := g.newBoardText(&fresh)
	if err != nil {
		return err
	}
	if _, err := g.LoadBoard(b.Serial); err != nil {
		return err
	}
	return g.edit(path, func(old []byte) ([]byte, error) {
		if old == nil {
			return text, nil
		}
		return withZero(path, old, fresh.Zero)
	})
}

func (z *ZeroCard) rounded() *ZeroCard {
	r := *z
	r.Time = z.Time.UTC().Truncate(time.Second)
	round := func(v pressure.KPa) pressure.KPa { return pressure.KPa(math.Round(float64(v)*1e6) / 1e6) }
	each := func(values []pressure.KPa) (out []pressure.KPa) {
		for _, v := range values {
			out = append(out, round(v))
		}
		return out
	}
	r.AmbientKPa, r.OffsetsKPa, r.UncertaintyKPa = round(z.AmbientKPa), each(z.OffsetsKPa), each(z.UncertaintyKPa)
	return &r
}

// withZero returns the card's text with another zero pass.
func withZero(path string, text []byte, z *ZeroCard) ([]byte, error) {
	d, b, err := parseBoard(path, text)
	if err != nil {
		return nil, err
	}
	nl := d.newline()
	var changes []change
	var end string
	if b.Zero == nil {
		end = nl + zeroSection("[zero]", z, nl)
	} else {
		for _, f := range zeroFields(z) {
			if c, differs := d.set("zero", f.key, f.value); differs {
				changes = append(changes, c)
			}
		}
		changes = append(changes, d.dropZeros()...)
		end = nl + zeroSection("[[previous_zero]]", b.Zero, nl)
	}
	if n := len(text); n > 0 && text[n-1] != '\n' {
		end = nl + end
	}
	changed := d.applied(append(changes, change{len(text), len(text), end}))
	return changed, verifyZero(d, changed, z)
}

// dropZeros returns the changes that take away the oldest of the previous zero
// passes, so that there is room for one more.
func (d *doc) dropZeros() (changes []change) {
	n := len(d.root().tables("previous_zero", math.MaxInt))
	for i := range n + 1 - keptZeros {
		p, ok := d.places[fmt.Sprintf("previous_zero[%d]", i)]
		if !ok || p.inline {
			continue
		}
		end := d.after(p.end, "").from
		for _, nl := range []string{"\n", "\r\n"} {
			if rest := string(d.text[end:min(end+2, len(d.text))]); len(rest) >= len(nl) && rest[:len(nl)] == nl {
				end += len(nl)
				break
			}
		}
		changes = append(changes, change{p.start, end, ""})
	}
	return changes
}

// verifyZero makes sure that the changed text says what d said, but with the
// new zero pass, and the old one among the previous.
func verifyZero(d *doc, changed []byte, z *ZeroCard) error {
	after, b, err := parseBoard(d.path, changed)
	if err != nil {
		return notSaved(d.path, fmt.Errorf("%w: %w", errUnverified, err))
	}
	var want []*ZeroCard
	for _, t := range d.root().tables("previous_zero", math.MaxInt) {
		want = append(want, readZero(t))
	}
	if old, ok := d.tree["zero"].(map[string]any); ok {
		want = append(want, readZero(table{d, "zero", "", old}))
	}
	want = want[max(0, len(want)-keptZeros):]
	got := []*ZeroCard{}
	for _, t := range after.root().tables("previous_zero", math.MaxInt) {
		got = append(got, readZero(t))
	}
	delete(d.tree, "previous_zero")
	delete(after.tree, "previous_zero")
	unknown := func(tree map[string]any) map[string]any {
		zero, _ := tree["zero"].(map[string]any)
		for _, f := range zeroFields(z) {
			delete(zero, f.key)
		}
		if len(zero) == 0 {
			delete(tree, "zero")
		}
		return tree
	}
	if zerosText(got) != zerosText(want) || zerosText([]*ZeroCard{b.Zero}) != zerosText([]*ZeroCard{z}) ||
		!sameTree(unknown(d.tree), unknown(after.tree)) {
		return notSaved(d.path, errUnverified)
	}
	return nil
}

// zerosText returns what cards would say of zero passes.
func zerosText(zeros []*ZeroCard) (text string) {
	for _, z := range zeros {
		text += zeroSection("", z, "\n")
	}
	return text
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
