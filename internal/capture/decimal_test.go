package capture

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// The quick reader of numbers gives what strconv gives, to the bit, or leaves the text to it.
func TestPlainDecimal(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	texts := []string{"0", "-0", "-0.0", "1.", ".5", "-.25", "999999999999999", "0.000000000000001", "101.325"}
	for range 20000 {
		v := math.Ldexp(random.Float64()-0.5, random.IntN(40))
		texts = append(texts, strconv.FormatFloat(v, 'f', random.IntN(9), 64))
	}
	quick := 0
	for _, text := range texts {
		want, err := strconv.ParseFloat(text, 64)
		got, n := plainDecimal([]byte(text + ",7"))
		if n == 0 {
			continue
		}
		quick++
		if err != nil || n != len(text) || math.Float64bits(got) != math.Float64bits(want) {
			t.Fatalf("%q: %v, length %d; want %v, %v", text, got, n, want, err)
		}
	}
	if quick < len(texts)*3/4 {
		t.Errorf("%d of %d read quickly", quick, len(texts))
	}
	for _, text := range []string{"", "-", ".", "+1", "1e3", "0x10", "1_0", " 1", "1 ", "nan", "1.2.3", "--1",
		strings.Repeat("1", 16), "\xff"} {
		if v, n := plainDecimal([]byte(text)); n != 0 {
			t.Errorf("%q: %v", text, v)
		}
	}
}

// A row that is missing now and then is counted, though the logger's clock jitters by a fifth of an interval.
func TestLostRows(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	var text strings.Builder
	text.WriteString("t_us,kpa0\n")
	missing := uint64(0)
	for i := range 20000 {
		if i > 0 && i < 19999 && random.IntN(12) == 0 {
			missing++
			continue
		}
		text.WriteString(strconv.Itoa(1000+1000*i+random.IntN(401)-200) + ",80\n")
	}
	in, err := Open(strings.NewReader(text.String()))
	var row Row
	for err == nil {
		err = in.Table.Read(&row)
	}
	t.Logf("%d told as lost, %d missing", in.Table.Stats().Lost, missing)
	if s := in.Table.Stats(); s.Lost != missing || missing < 1000 {
		t.Errorf("%d told of %d", s.Lost, missing)
	}
}
