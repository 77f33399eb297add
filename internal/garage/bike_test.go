package garage

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"evendraw/internal/bank"
	"evendraw/internal/plain"
	"evendraw/internal/store"
)

// All bikes and boards in these tests are invented.

func openTest(t testing.TB) *Garage {
	t.Helper()
	g, err := Open(filepath.Join(t.TempDir(), "garage"))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// writeCard puts text where the bike's card belongs, as a person would.
func writeCard(t testing.TB, g *Garage, folder, text string) string {
	t.Helper()
	path := g.bikePaths(folder).Card
	must(t, os.MkdirAll(filepath.Dir(path), 0o777))
	must(t, os.WriteFile(path, []byte(text), 0o666))
	return path
}

func readText(t testing.TB, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	must(t, err)
	return string(text)
}

func fullBike() Bike {
	b := DefaultBike("Invented Four", 4)
	b.Bank.Channels = []int{3, 2, 1, 0}
	b.Bank.FiringAngles = []float64{0, 180, 360, 540.5}
	b.Bank.Screws[0].EffectKPaPerTurn = -6.25
	b.Reference = 3
	b.Unit = "mmHg"
	b.LimitKPa, b.AimKPa = 2, 0.4
	b.IdleRPMLow, b.IdleRPMHigh = 950, 1050
	altitude := 412.5
	b.AltitudeM = &altitude
	b.Note = "needle \"second\" clip\\groove\n\tÄnderung: 主ジェット"
	return b
}

func TestBikeRoundTrip(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	for _, b := range []Bike{fullBike(), DefaultBike("two", 2), DefaultBike("three", 3), DefaultBike("four", 4)} {
		must(t, g.NewBike(&b))
		got, err := g.LoadBike(b.Name)
		must(t, err)
		if !reflect.DeepEqual(got, b) {
			t.Errorf("%s: got %+v, want %+v", b.Name, got, b)
		}
	}
	bikes, damaged := g.ListBikes()
	if len(bikes) != 4 || len(damaged) != 0 {
		t.Errorf("listed %d, damaged %v", len(bikes), damaged)
	}
}

func TestOpenCreatesNothing(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	if _, err := g.LoadBike("none"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
	if err := g.SaveEffects("none", map[string]float64{"1-2": 3}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("got %v", err)
	}
	if name, err := g.LastBike(); name != "" || err != nil {
		t.Errorf("got %q, %v", name, err)
	}
	if b, err := g.LoadBoard("X1"); err != nil || b.SupplyMV != 5000 {
		t.Errorf("got %+v, %v", b, err)
	}
	if r := g.Inspect(); r.Files != 0 || r.Damaged != nil {
		t.Errorf("checked %d, damaged %v", r.Files, r.Damaged)
	}
	if _, err := os.Stat(g.Paths().Dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("something was created: %v", err)
	}
}

func TestNewBikeOverwritesNothing(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := fullBike()
	must(t, g.NewBike(&b))
	p, err := g.BikePaths(b.Name)
	must(t, err)
	before := readText(t, p.Card)
	for _, name := range []string{b.Name, "  invented  FOUR "} {
		again := DefaultBike(name, 2)
		if err := g.NewBike(&again); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%q: got %v", name, err)
		}
	}
	if readText(t, p.Card) != before {
		t.Error("the card has changed")
	}
}

func TestNewBikeRefusesWhatNoCardHolds(t *testing.T) {
	t.Parallel()
	for field, spoil := range map[string]func(b *Bike){
		"name":                           func(b *Bike) { b.Name = "x\x1b]0;" },
		"note":                           func(b *Bike) { b.Note = "bell \a" },
		"unit":                           func(b *Bike) { b.Unit = "psi" },
		"reference":                      func(b *Bike) { b.Reference = 5 },
		"limit_kpa":                      func(b *Bike) { b.LimitKPa = 1000 },
		"aim_kpa":                        func(b *Bike) { b.AimKPa = b.LimitKPa + 1 },
		"idle_rpm_high":                  func(b *Bike) { b.IdleRPMLow = 0 },
		"altitude_m":                     func(b *Bike) { nan := math.NaN(); b.AltitudeM = &nan },
		`moves of screw "3-4"`:           func(b *Bike) { b.Bank.Screws[1].Moves = nil },
		"effect_kpa_per_turn of screw 2": func(b *Bike) { b.Bank.Screws[1].EffectKPaPerTurn = math.Inf(1) },
	} {
		t.Run(field, func(t *testing.T) {
			g := openTest(t)
			b := fullBike()
			spoil(&b)
			var e *Error
			if err := g.NewBike(&b); !errors.As(err, &e) || e.Field != field {
				t.Errorf("got %v", err)
			}
			if _, err := os.Stat(g.Paths().Dir); err == nil {
				t.Error("something was created")
			}
		})
	}
}

const handEdited = `# my own words first
format = 1
name   =   'Invented Three'   # in single quotes
colour = "red"                # a key nobody knows

cylinders = 3
[[screw]] # left
  moves = [ 1, # the left one
  ]
  name = "1-2"
  effect_kpa_per_turn = 4 # measured in spring
  thread = { pitch = 0.5, left_handed = false }
[[screw]]
name = "2-3"
moves = [3] # the right one
# effect_kpa_per_turn = 99

[service]   # unknown table
date = 2026-05-01
odometer = nan
text = """
[[screw]]
effect_kpa_per_turn = 1
"""
`

func TestSaveEffectsKeepsTheRest(t *testing.T) {
	t.Parallel()
	want := strings.Replace(handEdited, "per_turn = 4 #", "per_turn = -3.142 #", 1)
	want = strings.Replace(want, "moves = [3] # the right one\n",
		"moves = [3] # the right one\neffect_kpa_per_turn = 7.5\n", 1)
	const mark = "\uFEFF" // a byte order mark
	inline := "format = 1\nname = 'Invented Twin'\ncylinders = 2\nscrew = [{name = '1-2', moves = [2]}] # short"
	for name, c := range map[string]struct {
		text    string
		effects map[string]float64
		want    string
	}{
		"both":     {handEdited, map[string]float64{"1-2": -3.14159, "2-3": 7.5}, want},
		"unknown":  {handEdited, map[string]float64{"1-2": 0, "2-3": math.NaN()}, handEdited},
		"the same": {handEdited, map[string]float64{"1-2": 4.0001}, handEdited},
		"windows": {strings.ReplaceAll(handEdited, "\n", "\r\n"), map[string]float64{"1-2": -3.14159, "2-3": 7.5},
			strings.ReplaceAll(want, "\n", "\r\n")},
		"mark": {mark + handEdited, map[string]float64{"1-2": -3.14159, "2-3": 7.5}, mark + want},
		"inline": {inline, map[string]float64{"1-2": 2},
			strings.Replace(inline, "[2]}", "[2], effect_kpa_per_turn = 2}", 1)},
		"end of file": {strings.TrimSuffix(handEdited[:strings.Index(handEdited, "# effect")], "\n"),
			map[string]float64{"2-3": 7.5}, handEdited[:strings.Index(handEdited, "# effect")-1] +
				"\neffect_kpa_per_turn = 7.5"},
	} {
		t.Run(name, func(t *testing.T) {
			g := openTest(t)
			path := writeCard(t, g, "x", c.text)
			bikes, damaged := g.ListBikes()
			if len(bikes) != 1 {
				t.Fatal(damaged)
			}
			if err := g.SaveEffects(bikes[0].Name, c.effects); err != nil {
				t.Error(err)
			}
			if got := readText(t, path); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

func TestSaveEffectsRefuses(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path := writeCard(t, g, "x", handEdited)
	for name, effects := range map[string]map[string]float64{
		"unknown screw": {"1-2": 3, "9-9": 1},
		"out of range":  {"1-2": 3, "2-3": 1e9},
	} {
		t.Run(name, func(t *testing.T) {
			var e *Error
			if err := g.SaveEffects("Invented Three", effects); !errors.As(err, &e) || e.Field == "" {
				t.Errorf("got %v", err)
			}
		})
	}
	if readText(t, path) != handEdited {
		t.Error("the card has changed")
	}
	short := writeCard(t, g, "y", "format = 1\nname = 'Invented Short'\ncylinders = 3\n")
	if err := g.SaveEffects("Invented Short", map[string]float64{"1-2": 3}); err == nil ||
		!strings.Contains(err.Error(), "[[screw]]") {
		t.Errorf("got %v for a card without screws (%s)", err, short)
	}
}

// badCards are cards with one thing wrong, the field and the line that must be
// named.
var badCards = map[string]struct {
	text, field string
	line        int
}{
	"empty":             {"", "format", 0},
	"no format":         {"name = 'x'\n", "format", 0},
	"newer":             {"format = 2\nname = 7\n", "format", 1},
	"format is text":    {"format = '1'\n", "format", 1},
	"no name":           {"format = 1\ncylinders = 2\n", "name", 0},
	"control":           {"format = 1\nname = \"a\\u001b[2J\"\ncylinders = 2\n", "name", 2},
	"turned text":       {"format = 1\nname = \"a\\u202eb\"\ncylinders = 2\n", "name", 2},
	"no cylinders":      {"format = 1\nname = 'x'\ncilinders = 4\n", "cylinders", 0},
	"one cylinder":      {"format = 1\nname = 'x'\ncylinders = 1\n", "cylinders", 3},
	"cylinders as text": {"format = 1\nname = 'x'\ncylinders = 'four'\n", "cylinders", 3},
	"channel twice":     {head + "channels = [0, 1, 1]\n", "channels", 4},
	"channels empty":    {head + "channels = []\n", "channels", 4},
	"order":             {head + "\nfiring_order = [1, 2]\n", "firing_order", 5},
	"angles":            {head + "firing_angles = [0, nan, 2]\n", "firing_angles", 4},
	"root":              {head + "root = 4\n", "root", 4},
	"moves nothing":     {screws("name = '2-3'\nmoves = []\n"), `moves of screw "2-3"`, 9},
	"moves left out":    {screws("name = '2-3'\n"), `moves of screw "2-3"`, 7},
	"unknown cylinder":  {screws("name = '2-3'\nmoves = [\n4]\n"), `moves of screw "2-3"`, 9},
	"name twice":        {screws("moves = [3]\nname = '1-2'\n"), `name of screw "1-2"`, 9},
	"no screw name":     {screws("moves = [3]\n"), `name of screw ""`, 7},
	"singular":          {screws("name = '2-3'\nmoves = [1]\n"), "screw", 4},
	"effect": {screws("name = '2-3'\nmoves = [3]\neffect_kpa_per_turn = 1e6\n"),
		"effect_kpa_per_turn of screw 2", 10},
	"effect nan": {screws("name = '2-3'\nmoves = [3]\neffect_kpa_per_turn = nan\n"),
		"effect_kpa_per_turn of screw 2", 10},
	"one table":           {head + "[screw]\nname = '1-2'\nmoves = [1]\n", "screw", 4},
	"reference":           {head + "reference = 0\n", "reference", 4},
	"unit":                {head + "unit = 'psi'\n", "unit", 4},
	"limit":               {head + "limit_kpa = -1\n", "limit_kpa", 4},
	"aim above limit":     {head + "limit_kpa = 1\naim_kpa = 1.5\n", "aim_kpa", 5},
	"idle half":           {head + "idle_rpm_low = 900\n", "idle_rpm_low", 4},
	"idle turned":         {head + "idle_rpm_high = 900\nidle_rpm_low = 1000\n", "idle_rpm_low", 5},
	"altitude":            {head + "altitude_m = 99999\n", "altitude_m", 4},
	"key twice":           {head + "root = 1\nroot = 2\n", "root", 5},
	"no end of text":      {head + "note = \"abc\n", "", 4},
	"not UTF-8":           {head + "note = 'M\xfcnchen'\n", "", 4},
	"too long a number":   {head + "reference = 99999999999\n", "reference", 4},
	"far too many lists":  {head + strings.Repeat("[a.b.c.d]\n", 3000), "", 0},
	"too deep":            {head + "a" + strings.Repeat(".a", 5000) + " = 1\n", "", 0},
	"too deep a list":     {head + "a = " + strings.Repeat("[", 500_000), "", 0},
	"far too many screws": {head + "screw = [" + strings.Repeat("{}, ", 200_000) + "]", "", 0},
	"too many screws":     {head + "screw = [" + strings.Repeat("{}, ", 11) + "]", "screw", 4},
	"too large":           {head + strings.Repeat("#\n", store.MaxFile/2), "", 0},
}

const head = "format = 1\nname = 'Invented'\ncylinders = 3\n" // lines 1 to 3

func screws(second string) string {
	return head + "[[screw]]\nname = '1-2'\nmoves = [1]\n[[screw]]\n" + second
}

func TestBadCardsNameFieldAndLine(t *testing.T) {
	t.Parallel()
	for name, c := range badCards {
		t.Run(name, func(t *testing.T) {
			g := openTest(t)
			path := writeCard(t, g, "x", c.text)
			good := DefaultBike("good", 2)
			must(t, g.NewBike(&good))
			bikes, damaged := g.ListBikes()
			if len(bikes) != 1 || len(damaged) != 1 {
				t.Errorf("listed %d, damaged %v", len(bikes), damaged)
				return
			}
			e := damaged[0]
			if e.Path != path || e.Field != c.field || e.Line != c.line || !strings.Contains(e.Error(), path) {
				t.Errorf("got %v (field %q, line %d)", e, e.Field, e.Line)
			}
			if strings.ContainsFunc(e.Error(), plain.Steers) {
				t.Errorf("control character in %q", e)
			}
		})
	}
}

// TestMeanAsReference checks that the mean, written where a cylinder's number belongs, is told its own key.
func TestMeanAsReference(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	writeCard(t, g, "x", head+"reference = 'mean'\n")
	_, damaged := g.ListBikes()
	if len(damaged) != 1 || !strings.Contains(damaged[0].Error(), `write compare_with = "mean"`) {
		t.Errorf("got %v", damaged)
	}
}

func TestRenamedByHand(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented One", 2)
	must(t, g.NewBike(&b))
	p, err := g.BikePaths(b.Name)
	must(t, err)
	text := strings.Replace(readText(t, p.Card), `"Invented One"`, `"Invented Other"`, 1)
	must(t, os.WriteFile(p.Card, []byte(text), 0o666))
	if _, err := g.LoadBike("Invented One"); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the old name: got %v", err)
	}
	if q, err := g.BikePaths("invented other"); err != nil || q != p {
		t.Errorf("the new name: got %v, %v", q, err)
	}
	again := DefaultBike("Invented One", 3)
	must(t, g.NewBike(&again))
	if got, err := g.LoadBike("Invented One"); err != nil || got.Bank.Cylinders != 3 {
		t.Errorf("a new bike of the old name: got %+v, %v", got, err)
	}
	if got, err := g.LoadBike("Invented Other"); err != nil || got.Bank.Cylinders != 2 {
		t.Errorf("the renamed bike: got %+v, %v", got, err)
	}
	writeCard(t, g, "copy", readText(t, p.Card))
	if _, err := g.LoadBike("Invented Other"); err == nil || !strings.Contains(err.Error(), "copy") {
		t.Errorf("two cards of one name: got %v", err)
	}
}

func TestLastBike(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented Zwölf", 2)
	must(t, g.NewBike(&b))
	must(t, g.SetLastBike("something else"))
	must(t, g.SetLastBike(b.Name))
	if name, err := g.LastBike(); name != b.Name || err != nil {
		t.Errorf("got %q, %v", name, err)
	}
	p, err := g.BikePaths(b.Name)
	must(t, err)
	must(t, os.RemoveAll(p.Dir))
	if name, err := g.LastBike(); name != "" || err != nil {
		t.Errorf("of a bike that is gone: got %q, %v", name, err)
	}
	must(t, os.WriteFile(g.Paths().Last, []byte("\x1b[2J"), 0o666))
	if name, err := g.LastBike(); name != "" || err == nil || strings.ContainsFunc(err.Error(), plain.Steers) {
		t.Errorf("damaged: got %q, %v", name, err)
	}
}

// A card with figures that were left out has the usual bank.
func TestShortCard(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	writeCard(t, g, "x", "format = 1\nname = 'short'\ncylinders = 4\nlimit_kpa = 0.3\n")
	b, err := g.LoadBike("short")
	must(t, err)
	if !reflect.DeepEqual(b.Bank, bank.Default(4)) || b.Reference != b.Bank.Root || b.Unit != "kPa" || b.AimKPa != 0.3 {
		t.Errorf("got %+v", b)
	}
}
