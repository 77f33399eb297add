package garage

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"evendraw/internal/store"
)

func TestBikeNames(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	long := strings.Repeat("very long ", 30)
	names := []string{
		"plain", "Invented Four", "x-1_y", "../x", "..", ".", "...", "CON", "con.txt", "Nul", "COM1", "lpt9", "COM10",
		"a/b", `a\b`, "a:b",
		"a-b", "a?b*", "ünïcode", "u\u0308nicode", "オートバイ", "мотоцикл", "🏍", "trailing.", "trailing..", "~", "-rf",
		"$HOME", "%TEMP%",
		"a+b", "x.toml", long, long + "er", strings.Repeat("語", 300), strings.Repeat("a", 300), strings.Repeat("a",
			40), strings.Repeat("a", 41),
		"'quoted'", `"quoted"`, "# remark", "a = b", "[[screw]]",
	}
	seen := map[string]string{}
	for i, name := range names {
		b := DefaultBike(name, 2+i%3)
		if err := g.NewBike(&b); err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		p, err := g.BikePaths(name)
		must(t, err)
		folder := filepath.Base(p.Dir)
		if other, ok := seen[strings.ToLower(folder)]; ok {
			t.Errorf("%q and %q meet in %s", other, name, folder)
		}
		seen[strings.ToLower(folder)] = name
		if filepath.Dir(p.Dir) != g.Paths().Bikes || len(folder) > 200 || store.IsReserved(folder) ||
			strings.ContainsAny(folder, `/\:*?"<>|.`) || strings.HasPrefix(folder, "-") ||
			strings.TrimSpace(folder) != folder {
			t.Errorf("%q: unsafe folder %q", name, folder)
		}
	}
	for i, name := range names {
		want, _ := cleanName(name)
		if got, err := g.LoadBike(name); err != nil || got.Name != want || got.Bank.Cylinders != 2+i%3 {
			t.Errorf("%q: got %q with %d cylinders, %v", name, got.Name, got.Bank.Cylinders, err)
		}
	}
	if bikes, damaged := g.ListBikes(); len(bikes) != len(names) || damaged != nil {
		t.Errorf("listed %d of %d, damaged %v", len(bikes), len(names), damaged)
	}
	if entries, _ := os.ReadDir(filepath.Dir(g.Paths().Dir)); len(entries) != 1 {
		t.Errorf("something was made outside the garage: %v", entries)
	}
}

func TestBadBikeNames(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	for _, name := range []string{"", " ", "\u00a0\u2003", "a\nb", "a\tb", "\x00", "\x1b]0;x\a", "\u0085", "a\u202eb",
		"\xff", strings.Repeat("a", 501)} {
		t.Run(strconv.QuoteToASCII(name[:min(len(name), 40)]), func(t *testing.T) {
			b := DefaultBike(name, 2)
			if err := g.NewBike(&b); err == nil {
				t.Error("was taken")
			}
			for _, err := range []error{g.SetLastBike(name), g.SaveEffects(name, nil)} {
				var e *Error
				if !errors.As(err, &e) {
					t.Errorf("got %v", err)
				}
			}
		})
	}
	if _, err := os.Stat(g.Paths().Dir); !errors.Is(err, fs.ErrNotExist) {
		t.Error("something was created")
	}
}

func TestDefaultDir(t *testing.T) {
	t.Parallel()
	home := func() (string, error) { return filepath.FromSlash("/home/u"), nil }
	abs := func(s string) string { return filepath.FromSlash(s) }
	if filepath.Separator == '\\' {
		t.Skip("paths of other systems")
	}
	for _, c := range []struct{ system, variable, value, want string }{
		{"linux", "XDG_DATA_HOME", "", "/home/u/.local/share/evendraw"},
		{"linux", "XDG_DATA_HOME", "/data", "/data/evendraw"},
		{"linux", "XDG_DATA_HOME", "relative", "/home/u/.local/share/evendraw"},
		{"darwin", "XDG_DATA_HOME", "/data", "/home/u/Library/Application Support/evendraw"},
		{"windows", "LOCALAPPDATA", "/local", "/local/evendraw"},
		{"windows", "LOCALAPPDATA", "", "/home/u/AppData/Local/evendraw"},
	} {
		t.Run(c.system+" "+c.value, func(t *testing.T) {
			env := func(name string) string {
				if name == c.variable {
					return c.value
				}
				return ""
			}
			if got, err := defaultDir(c.system, env, home); err != nil || got != abs(c.want) {
				t.Errorf("%s %q: got %s, %v", c.system, c.value, got, err)
			}
		})
	}
	noHome := func() (string, error) { return "", errors.New("no home") }
	var e *Error
	if _, err := defaultDir("linux", func(string) string { return "" }, noHome); !errors.As(err, &e) {
		t.Errorf("got %v", err)
	}
}
