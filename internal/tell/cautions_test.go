package tell

import (
	"math"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// published are the figures of the cautions, each as it is written, with its source. NIOSH's pocket guide and
// its criteria for noise at work: values from memory.
var published = map[string]string{
	"35 ppm":    "NIOSH, carbon monoxide: recommended limit, mean of a working day",
	"200 ppm":   "NIOSH, carbon monoxide: ceiling",
	"1200 ppm":  "NIOSH, carbon monoxide: immediately dangerous to life or health",
	"85 dBA":    "NIOSH, noise: recommended limit for 8 h",
	"91 dBA 2":  "derived: 8 h at 85 dBA, halved for each 3 dB (NIOSH's exchange rate)",
	"97 dBA 30": "derived likewise, in minutes",
}

var cautionFigure = regexp.MustCompile(`\d+ (?:ppm|dBA(?: \d+)?)`)

// Every figure of a caution, on the screens, in help and in README, is a published one; each text has those
// that it needs.
func TestFiguresOfCautions(t *testing.T) {
	t.Parallel()
	read := func(path string) string {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join(strings.Fields(string(text)), " ")
	}
	for name, text := range map[string]struct {
		text  string
		needs []string
	}{
		"mixture": {strings.Join(MixtureCautions, " "), []string{"35 ppm", "200 ppm", "1200 ppm", "85 dBA"}},
		"raised":  {strings.Join(RaisedCautions, " "), []string{"200 ppm", "1200 ppm", "91 dBA 2", "97 dBA 30"}},
		"README":  {read("../../README.md"), []string{"200 ppm", "1200 ppm", "85 dBA"}},
		"help":    {read("../cli/mixture.go"), []string{"200 ppm", "1200 ppm"}},
	} {
		found := cautionFigure.FindAllString(text.text, -1)
		for _, figure := range found {
			if published[figure] == "" {
				t.Errorf("%s: %q is not published", name, figure)
			}
		}
		for _, figure := range text.needs {
			if !slices.Contains(found, figure) {
				t.Errorf("%s: no word of %s", name, figure)
			}
		}
	}
	for _, row := range []struct{ dba, hours float64 }{{91, 2}, {97, 0.5}} {
		if h := 8 / math.Pow(2, (row.dba-85)/3); h != row.hours {
			t.Errorf("%v dBA: %v h", row.dba, h)
		}
	}
}

// The cautions' lines fit the narrowest screen beside its frame.
func TestWidthOfCautions(t *testing.T) {
	t.Parallel()
	for _, line := range slices.Concat(MixtureCautions, RaisedCautions, AirCautions) {
		if len([]rune(line)) > 79 {
			t.Errorf("a line of %d: %q", len([]rune(line)), line)
		}
	}
}
