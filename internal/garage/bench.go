package garage

import (
	"fmt"
	"math"
	"reflect"
	"time"

	"evendraw/internal/bank"
	"evendraw/internal/store"
)

// Moments of a bench card.
const (
	BenchApart    = "apart"    // how the bank was found when it came apart
	BenchTogether = "together" // how it is set before it goes back
)

// States of gaskets and O-rings; "" is not noted.
const (
	PartsRenewed = "renewed"
	PartsReused  = "reused"
	PartsSeen    = "seen" // of a step of the assembly that is ticked
)

// BenchCard is what was written down of a bank on the bench.
type BenchCard struct {
	// Format and Bike are set by SaveBench.
	Format  int       `json:"format"`
	Program string    `json:"program"`
	Time    time.Time `json:"time"` // kept in UTC
	Bike    string    `json:"bike"`
	// Moment is BenchApart or BenchTogether.
	Moment string `json:"moment"`
	// Corrects is the file name of the card that this one stands for, "" when it stands for itself.
	Corrects string `json:"corrects,omitempty"`
	// PilotScrews is FuelScrews, AirScrews or "" while unknown.
	PilotScrews string `json:"pilot_screws"`
	// Carburettors are from cylinder 1 on.
	Carburettors []Carburettor `json:"carburettors"`
	Note         string        `json:"note"`
	// ScrewsFound and StopFound say where the synchronising screws and the throttle stop stood, in the user's
	// words, such as threads that show; ToOrder what parts are to be ordered.
	ScrewsFound string `json:"screws_found"`
	StopFound   string `json:"stop_found"`
	ToOrder     string `json:"to_order"`

	unknown []unknownKey
}

// Carburettor is how one carburettor is set. What was not noted is NaN, 0 or "", and null or "" in the file.
type Carburettor struct {
	Cylinder int `json:"cylinder"` // from 1
	// PilotTurnsOut is in turns out from lightly seated.
	PilotTurnsOut NullFloat `json:"pilot_turns_out"`
	// MainJet, PilotJet and Needle are what is stamped on them.
	MainJet  string `json:"main_jet"`
	PilotJet string `json:"pilot_jet"`
	Needle   string `json:"needle"`
	// NeedleClip is the groove from the top that the clip sits in, from 1; 0 unknown.
	NeedleClip int `json:"needle_clip"`
	// FloatHeightMM is measured as the bike's manual says.
	FloatHeightMM NullFloat `json:"float_height_mm"`
	// Gaskets and ORings are PartsRenewed, PartsReused or "".
	Gaskets string `json:"gaskets"`
	ORings  string `json:"o_rings"`
	// PilotParts (spring, washer and O-ring under the pilot screw, in that order), Diaphragm (its edge lies in
	// its groove) and FuelScreen (in, and clean) are PartsSeen or "".
	PilotParts string `json:"pilot_parts"`
	Diaphragm  string `json:"diaphragm"`
	FuelScreen string `json:"fuel_screen"`
	Note       string `json:"note"`
}

// NewBenchCard returns a card for a bank on which nothing is noted yet.
func NewBenchCard(b *bank.Bank, moment string) BenchCard {
	s := BenchCard{Moment: moment}
	for c := range b.Cylinders {
		unknown := NullFloat(math.NaN())
		s.Carburettors = append(s.Carburettors, Carburettor{Cylinder: c + 1, PilotTurnsOut: unknown,
			FloatHeightMM: unknown})
	}
	return s
}

func (s *BenchCard) format() int { return s.Format }

func (s *BenchCard) clean() {
	cleanTexts(reflect.ValueOf(s).Elem())
	s.Time, s.Carburettors, s.Corrects = s.Time.UTC(), atMost(s.Carburettors), store.BaseName(s.Corrects)
	for i := range s.Carburettors {
		zeroIsUnknown(&s.Carburettors[i].FloatHeightMM)
	}
}

// Bounds of a bench card. Chosen: to catch a slip of the finger.
const (
	MaxNeedleClip    = 9
	MaxFloatHeightMM = 60
	maxBenchText     = 500
)

// Check says what is wrong with a card, nil if nothing. An Error names the field, such as
// "pilot_turns_out of carburettor 2".
func (s *BenchCard) Check() error {
	if s.Moment != BenchApart && s.Moment != BenchTogether {
		return problem("", "moment", "%q is neither %q nor %q", s.Moment, BenchApart, BenchTogether)
	}
	if n := len(s.Carburettors); n == 0 || n > bank.MaxCylinders {
		return problem("", "carburettors", "there are %d, from 1 to %d are possible", n, bank.MaxCylinders)
	}
	if max(len(s.ScrewsFound), len(s.StopFound), len(s.ToOrder)) > maxBenchText {
		return problem("", "text", "is longer than %d bytes", maxBenchText)
	}
	for i, c := range s.Carburettors {
		for _, field := range Fields() {
			var again Carburettor
			text := c.Text(field)
			err := again.Set(field, text)
			if err == nil && again.Text(field) != text {
				err = fmt.Errorf("%q is to be %q", text, again.Text(field))
			}
			if err != nil {
				return problem("", fmt.Sprintf("%s of carburettor %d", field, i+1), "%v", err)
			}
		}
		if len(c.Note) > maxBenchText {
			return problem("", fmt.Sprintf("text of carburettor %d", i+1), "is longer than %d bytes", maxBenchText)
		}
	}
	return nil
}

// SaveBench writes a card to a file of its own among the bike's and returns its
// path. Format, Bike and, when it is zero, Time are filled in.
func (g *Garage) SaveBench(bike string, card *BenchCard) (path string, err error) {
	p, err := g.BikePaths(bike)
	if err != nil {
		return "", err
	}
	s := *card
	s.Format, s.Bike = newestFormat, g.cardName(p, bike)
	if s.Time.IsZero() {
		s.Time = g.now()
	}
	s.clean()
	if err := s.Check(); err != nil {
		return "", err
	}
	number := numbersIn(benchEndings, p.Bench).next()
	if path, err = g.saveSealed(p.Bench, benchEnding, s.Time, number, &s, s.unknown); path != "" {
		*card = s
	}
	return path, err
}

var benchEndings = []string{benchEnding}

// loadBench reads the bench card in a file.
func loadBench(path string) (BenchCard, error) {
	var s BenchCard
	body, err := loadSealed(path, &s)
	if err != nil {
		return BenchCard{}, err
	}
	s.unknown = unknownIn(body, &s)
	return s, nil
}

// ListBench returns the bench cards of a bike, the newest last, and apart the errors of files that are damaged.
func (g *Garage) ListBench(bike string) (cards []StoredBench, damaged []*Error) {
	return listOf(g, bike, func(p BikePaths) string { return p.Bench }, loadBench)
}

// lastApart returns when the bank last came apart, as far as there are cards of it.
func (g *Garage) lastApart(p BikePaths) (at time.Time, ok bool) {
	cards, _ := list(p.Bench, loadBench)
	for _, s := range cards {
		if s.Kept.Moment == BenchApart && s.Kept.Corrects == "" {
			at, ok = s.Kept.Time, true
		}
	}
	return at, ok
}
