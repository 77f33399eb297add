package garage

import (
	"reflect"
	"strings"
	"testing"
)

func TestTuneOnTheCard(t *testing.T) {
	t.Parallel()
	b := DefaultBike("tuned", 4)
	b.Tune = Tune{IdlingLimitMin: 8, LevelBy: LevelByOpening, StopEffectRPMPerTurn: -240, PilotScrews: AirScrews,
		RaisedRPM: 2500, LambdaTarget: 0.92, StoichAFR: 14.1}
	_, got, err := parseBike("", bikeText(&b))
	if err != nil || !reflect.DeepEqual(got.Tune, b.Tune) {
		t.Errorf("read back %+v, %v; wrote %+v", got.Tune, err, b.Tune)
	}
	_, plain, err := parseBike("", []byte("format = 1\nname = \"x\"\ncylinders = 2\n"))
	if err != nil || plain.Tune != defaultTune() {
		t.Errorf("a card that says nothing: %+v, %v", plain.Tune, err)
	}
	for _, wrong := range []string{`level_by = "ear"`, `pilot_screws = "brass"`, "idling_limit_min = 0",
		"lambda_target = 3"} {
		t.Run(wrong, func(t *testing.T) {
			if _, _, err := parseBike("", []byte("format = 1\nname = \"x\"\ncylinders = 2\n"+wrong+"\n")); err == nil {
				t.Error("was taken")
			}
		})
	}
}

func TestLambdaOnTheCard(t *testing.T) {
	t.Parallel()
	b := DefaultBoard("0A")
	b.Lambda = &LambdaCard{Channel: 4, LowV: 0.5, HighV: 4.5, LowLambda: 0.58, HighLambda: 1.22}
	_, got, err := parseBoard("", boardText(&b))
	if err != nil || !reflect.DeepEqual(got.Lambda, b.Lambda) {
		t.Errorf("read back %+v, %v", got.Lambda, err)
	}
	for _, wrong := range []string{"low_v = 5", "channel = 9", "high_lambda = 0.58"} {
		key, _, _ := strings.Cut(wrong, " ")
		var lines []string
		for _, line := range strings.Split(string(boardText(&b)), "\n") {
			if strings.HasPrefix(line, key+" ") {
				line = wrong
			}
			lines = append(lines, line)
		}
		t.Run(wrong, func(t *testing.T) {
			if _, _, err := parseBoard("", []byte(strings.Join(lines, "\n"))); err == nil {
				t.Error("was taken")
			}
		})
	}
}

// What the idle step asks for stands on the card after; the rest of the card stays.
func TestSaveIdle(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	b := DefaultBike("Invented Four", 4)
	must(t, g.NewBike(&b))
	must(t, g.SaveIdle("Invented Four", 1000, 1100))
	got, err := g.LoadBike("Invented Four")
	must(t, err)
	if got.IdleRPMLow != 1000 || got.IdleRPMHigh != 1100 || got.Bank.Cylinders != 4 {
		t.Errorf("%+v", got)
	}
	if err := g.SaveIdle("none", 1000, 1100); err == nil {
		t.Error("a card that is not there was written")
	}
}
