package series

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Certified values of the NIST StRD univariate datasets: mean, standard
// deviation (n - 1), lag-1 autocorrelation. digits is how many of the standard
// deviation's float64 can keep: NumAcc3 and 4 hold steps of 0.1 on 1e6 and 1e7.
func TestSeriesAgainstNIST(t *testing.T) {
	for _, c := range []struct {
		name          string
		n             int
		mean, sd, lag float64
		digits        float64
	}{
		{"Lew", 200, -177.435, 277.332168044316, -0.307304800605679, 12},
		{"Lottery", 218, 518.958715596330, 291.699727470969, -0.120948622967393, 12},
		{"Mavro", 50, 2.001856, 0.000429123454003053, 0.937989183438248, 10},
		{"Michelso", 100, 299.8524, 0.0790105478190518, 0.535199668621283, 11},
		{"NumAcc1", 3, 10000002, 1, -0.5, 15},
		{"NumAcc2", 1001, 1.2, 0.1, -0.999, 12},
		{"NumAcc3", 1001, 1000000.2, 0.1, -0.999, 9},
		{"NumAcc4", 1001, 10000000.2, 0.1, -0.999, 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			var s Series
			for _, v := range nistData(t, c.name) {
				s.Push(v)
			}
			tol := math.Pow(10, -c.digits)
			if s.N() != c.n || math.Abs(s.Mean()/c.mean-1) > 1e-14 || math.Abs(s.sd()/c.sd-1) > tol ||
				math.Abs(s.lag1()-c.lag) > 10*tol {
				t.Errorf("n %d mean %.15g sd %.15g lag-1 %.15g, certified %+v", s.N(), s.Mean(), s.sd(), s.lag1(), c)
			}
		})
	}
}

func nistData(t *testing.T, name string) (data []float64) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/nist/" + name + ".dat")
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(string(text), "\n") {
		f := strings.Fields(line)
		if strings.HasPrefix(strings.TrimSpace(line), "---") {
			data = nil // the data follow the last rule of the head
			continue
		}
		if len(f) != 1 || strings.Trim(f[0], "0123456789.-+eE") != "" {
			continue
		}
		v, err := strconv.ParseFloat(f[0], 64)
		if err != nil {
			t.Fatalf("%s line %d: %v", name, i+1, err)
		}
		data = append(data, v)
	}
	return data
}

// Student's t, two-sided 95 %: printed in every handbook of statistics
// (12.706, 4.303, 2.571, 2.228, 2.042, 1.980); values from memory.
func TestStudent(t *testing.T) {
	for f, want := range map[float64]float64{1: 12.706, 2: 4.303, 5: 2.571, 10: 2.228, 30: 2.042, 120: 1.980} {
		if got := Student95(f); math.Abs(got-want) > 0.002 {
			t.Errorf("%v degrees of freedom: %.4f, want %.3f", f, got, want)
		}
	}
}
