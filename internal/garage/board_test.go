package garage

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"evendraw/internal/pressure"
	"evendraw/internal/store"
)

func someZero(n int) *ZeroCard {
	return &ZeroCard{
		Time: time.Date(2026, 3, n, 10, 0, 0, 0, time.UTC), AmbientKPa: 98.5 + pressure.KPa(n)/10,
		OffsetsKPa:     []pressure.KPa{0.25, -0.125, 0, pressure.KPa(n)},
		UncertaintyKPa: []pressure.KPa{0.001, 0.002, 0.003, 0.004}, NoiseKPa: []pressure.KPa{0.1, 0.2, 0.3,
			0.4}, Samples: 5000 + n, Bits: 10,
		Sensors: []string{"KIND-A", "KIND-A", "KIND-B", "KIND-B"},
	}
}

func TestBoardRoundTrip(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := Board{Serial: "aB-1_x", Model: "invented board", Sensors: []string{"KIND-A", "KIND-B"}, SupplyMV: 4980,
		Zero: someZero(1)}
	must(t, g.SaveRig(&b))
	if got, err := g.LoadBoard(b.Serial); err != nil || !reflect.DeepEqual(got, b) {
		t.Errorf("got %+v, %v", got, err)
	}
	if boards, damaged := g.ListBoards(); len(boards) != 1 || damaged != nil {
		t.Errorf("listed %+v, %v", boards, damaged)
	}
}

// The nth zero pass is the last one, and the five before it are kept.
func TestSaveZeroKeepsFive(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBoard("S1")
	b.Model = "invented"
	path, err := g.BoardPath("S1")
	must(t, err)
	for n := 1; n <= 9; n++ {
		must(t, g.SaveZero(&b, someZero(n)))
		got, err := g.LoadBoard("S1")
		must(t, err)
		if !reflect.DeepEqual(got.Zero, someZero(n)) {
			t.Errorf("zero pass %d: got %+v", n, got.Zero)
		}
		text := readText(t, path)
		at := 0
		for k := max(1, n-keptPasses); k < n; k++ {
			section := "\n\n" + zeroPasses.section("[[previous_zero]]", someZero(k))
			if i := strings.Index(text[at:], section); i < 0 {
				t.Errorf("after zero pass %d, %d is not kept, or out of order", n, k)
			} else {
				at += i + 1
			}
		}
		if kept := strings.Count(text, "[[previous_zero]]"); kept != min(n-1, keptPasses) {
			t.Errorf("after zero pass %d, %d are kept", n, kept)
		}
	}
}

const handEditedBoard = `format = 1
serial = 'H1' # on the sticker
lamp = "green"
supply_mv = 4_950
[zero] # do not touch
time = 2026-01-01T12:00:00+02:00
mood = 'sunny'
offsets_kpa = [ # front
  0.5, -0.5 ]
ambient_kpa = 100 # from the airfield
[other]
x = 1979-05-27T07:32:00
`

func TestSaveZeroKeepsTheRest(t *testing.T) {
	t.Parallel()
	z := someZero(2)
	z.UncertaintyKPa, z.NoiseKPa, z.Sensors = nil, nil, nil
	added := "uncertainty_kpa = []\nnoise_kpa = []\nsamples = 5002\nbits = 10\nsensors = []\n"
	want := strings.NewReplacer("2026-01-01T12:00:00+02:00", "2026-03-02T10:00:00Z", "[ # front\n  0.5, -0.5 ]",
		"[0.25, -0.125, 0, 2]",
		"= 100 # from the airfield\n", "= 98.7 # from the airfield\n"+added).Replace(handEditedBoard) +
		"\n[[previous_zero]]\ntime = 2026-01-01T10:00:00Z\nambient_kpa = 100\noffsets_kpa = [0.5, " +
		"-0.5]\nuncertainty_kpa = []\nnoise_kpa = []\nsamples = 0\nbits = 0\nsensors = []\n"
	windows := func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }
	for name, c := range map[string]struct{ text, want string }{
		"plain":   {handEditedBoard, want},
		"windows": {windows(handEditedBoard), windows(want)},
		"no zero": {"format = 1\nserial = 'H1'", "format = 1\nserial = 'H1'\n\n" + zeroPasses.section("[zero]", z)},
	} {
		t.Run(name, func(t *testing.T) {
			g := openTest(t)
			path, err := g.BoardPath("H1")
			must(t, err)
			must(t, os.MkdirAll(filepath.Dir(path), 0o777))
			must(t, os.WriteFile(path, []byte(c.text), 0o666))
			b := DefaultBoard("H1")
			must(t, g.SaveZero(&b, z))
			if got := readText(t, path); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
}

func TestBadBoards(t *testing.T) {
	t.Parallel()
	const head = "format = 1\nserial = 'B1'\n" // lines 1 and 2
	const zero = "[zero]\ntime = 2026-01-01T12:00:00Z\nambient_kpa = 100\n"
	for name, c := range map[string]struct {
		text, field string
		line        int
	}{
		"newer":          {"format = 3\n", "format", 1},
		"another's":      {"format = 1\nserial = 'B2'\n", "serial", 0},
		"serial":         {"format = 1\nserial = '../B2'\n", "serial", 2},
		"supply":         {head + "supply_mv = 5\n", "supply_mv", 3},
		"sensors":        {head + "sensors = [1]\n", "sensors", 3},
		"zero as number": {head + "zero = 1\n", "zero", 3},
		"dotted zero":    {head + "zero.ambient_kpa = 1\n", "zero", 0},
		"no time":        {head + "[zero]\nambient_kpa = 100\noffsets_kpa = [1]\n", "time of zero", 3},
		"local time": {head + "[zero]\ntime = 2026-01-01T12:00:00\nambient_kpa = 100\noffsets_kpa = [1]\n",
			"time of zero", 4},
		"ambient": {head + "[zero]\ntime = 2026-01-01T12:00:00Z\nambient_kpa = 1000\noffsets_kpa = [1]\n",
			"ambient_kpa of zero", 5},
		"no offsets":  {head + zero, "offsets_kpa of zero", 3},
		"offsets inf": {head + zero + "offsets_kpa = [inf]\n", "offsets_kpa of zero", 6},
		"uncertainty": {head + zero + "offsets_kpa = [1]\nuncertainty_kpa = [1, 2]\n", "uncertainty_kpa of zero",
			7},
		"older one":        {head + "[[previous_zero]]\ntime = 1\n", "time of previous_zero 1", 4},
		"previous as text": {head + "previous_zero = 'x'\n", "previous_zero", 3},
	} {
		t.Run(name, func(t *testing.T) {
			g := openTest(t)
			path, err := g.BoardPath("B1")
			must(t, err)
			must(t, os.MkdirAll(filepath.Dir(path), 0o777))
			must(t, os.WriteFile(path, []byte(c.text), 0o666))
			var e *Error
			if _, err := g.LoadBoard("B1"); !errors.As(err, &e) || e.Path != path || e.Field != c.field ||
				e.Line != c.line {
				t.Errorf("got %v", err)
			}
			b := DefaultBoard("B1")
			if err := g.SaveZero(&b, someZero(1)); !errors.As(err, &e) || readText(t, path) != c.text {
				t.Errorf("saving a zero pass: got %v", err)
			}
			if _, damaged := g.ListBoards(); len(damaged) != 1 {
				t.Errorf("listed as damaged: %v", damaged)
			}
		})
	}
}

func TestSaveZeroRefuses(t *testing.T) {
	t.Parallel()
	for field, spoil := range map[string]func(z *ZeroCard){
		"ambient_kpa of zero": func(z *ZeroCard) { z.AmbientKPa = pressure.KPa(math.NaN()) },
		"offsets_kpa of zero": func(z *ZeroCard) { z.OffsetsKPa[1] = pressure.KPa(math.Inf(-1)) },
		"sensors of zero":     func(z *ZeroCard) { z.Sensors[0] = "\x1b" },
	} {
		t.Run(field, func(t *testing.T) {
			g := openTest(t)
			b, z := DefaultBoard("S1"), someZero(1)
			spoil(z)
			var e *Error
			if err := g.SaveZero(&b, z); !errors.As(err, &e) || e.Field != field {
				t.Errorf("got %v", err)
			}
		})
	}
}

func TestSerials(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	for _, bad := range []string{"", "..", "a/b", `a\b`, "a b", "ä", "a\x00", "x.y", "a:b", strings.Repeat("a", 33)} {
		t.Run(strconv.Quote(bad), func(t *testing.T) {
			if path, err := g.BoardPath(bad); err == nil {
				t.Errorf("got %s", path)
			}
		})
	}
	seen := map[string]string{}
	var serials []string
	for _, base := range []string{"con", "nul", "com1", "a1b2", "a", "0", "-", "_", strings.Repeat("z", 32)} {
		for caps := range 16 { // capitals wherever the first four letters are
			s := []byte(base)
			for i := range min(4, len(s)) {
				if caps&(1<<i) != 0 && s[i] >= 'a' {
					s[i] -= 'a' - 'A'
				}
			}
			serials = append(serials, string(s))
		}
	}
	for _, s := range serials {
		path, err := g.BoardPath(s)
		must(t, err)
		name := strings.ToLower(filepath.Base(path))
		if other, ok := seen[name]; ok && other != s {
			t.Errorf("%q and %q meet in %s", other, s, name)
		}
		seen[name] = s
		if store.IsReserved(strings.TrimSuffix(name, cardEnding)) {
			t.Errorf("%q: reserved name %s", s, name)
		}
	}
	if got, err := boardFile("ABcd12"); got != "ABcd12+3.toml" || err != nil {
		t.Errorf("got %s, %v", got, err)
	}
}
