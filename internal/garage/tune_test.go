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

// A hand is written to a card that knew none, and renewed; the rest of the card stays.
func TestSaveHand(t *testing.T) {
	t.Parallel()
	g := openTest(t)
	path := writeCard(t, g, "x", handEdited)
	bikes, damaged := g.ListBikes()
	if len(bikes) != 1 {
		t.Fatal(damaged)
	}
	for _, h := range []struct{ late, runOn, wantLate, wantRunOn float64 }{{1.614, 0.081, 1.61, 0.08},
		{1.612, 0.079, 1.61, 0.08}, {99, -0.004, maxHandLate, 0}} {
		if err := g.SaveHand(bikes[0].Name, h.late, h.runOn); err != nil {
			t.Fatal(err)
		}
		b, err := g.LoadBike(bikes[0].Name)
		if err != nil || b.HandLateS != h.wantLate || b.HandRunOnTurns != h.wantRunOn {
			t.Errorf("%v: %v and %v, %v", h, b.HandLateS, b.HandRunOnTurns, err)
		}
	}
	kept := strings.NewReplacer("hand_late_s = 5\n", "", "hand_run_on_turns = 0\n", "").Replace(readText(t, path))
	if kept != handEdited {
		t.Errorf("the rest of the card became\n%s", kept)
	}
}
