package cli

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evendraw/internal/balance"
	"evendraw/internal/bank"
	"evendraw/internal/capture"
	"evendraw/internal/engine"
	"evendraw/internal/fakeboard"
	"evendraw/internal/pressure"
	"evendraw/internal/session"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
)

// Recorded captures and what is read in them. The captures are invented: made by
// the practice engine, by the scripts below. To make them anew:
//
//	go test ./internal/cli -run TestCaptures -make
//
// and to accept new readings, after a look at what changes:
//
//	go test ./internal/cli -run TestCaptures -update
var (
	makeCaptures  = flag.Bool("make", false, "make the captures of testdata/captures anew")
	updateGoldens = flag.Bool("update", false, "write what is read in them as the expected readings")
)

const capturesDir = "../../testdata/captures"

// script makes one capture.
type script struct {
	name, about string
	make        func() (bank.Bank, []byte)
}

// ride runs an engine for so many seconds, doing what do says on the way.
func ride(cfg engine.Config, seconds float64, do func(e *engine.Engine, t float64)) (bank.Bank, fakeboard.Recording) {
	cfg.NoSensorErrors = true
	e := engine.New(cfg)
	if do == nil {
		do = func(*engine.Engine, float64) {}
	}
	return cfg.Bank, fakeboard.FromEngine(e, seconds, func(t float64) { do(e, t) })
}

// captured is a script that records an engine.
func captured(cfg func() engine.Config, seconds float64, do func(e *engine.Engine, t float64)) func() (bank.Bank,
	[]byte) {
	return func() (bank.Bank, []byte) {
		b, rec := ride(cfg(), seconds, do)
		return b, rec.Bytes()
	}
}

// at returns a step of a script: act is done once, when the time has come.
func at(when float64, act func(e *engine.Engine)) func(*engine.Engine, float64) {
	done := false
	return func(e *engine.Engine, t float64) {
		if !done && t >= when {
			done = true
			act(e)
		}
	}
}

// bike is a bike of the invented garage.
func bike(name string, running bool) func() engine.Config {
	return func() engine.Config {
		s, ok := engine.ScenarioNamed(name)
		if !ok {
			panic("no practice bike " + name)
		}
		cfg := s.Config(11)
		cfg.Running = running
		return cfg
	}
}

func warmFour() engine.Config {
	return engine.Config{Bank: bank.Default(4), Seed: 12, Running: true}
}

// cut is a ride that something happens to in its middle: between the two halves
// of its bytes comes junk, and the board starts anew.
func cut(junk string, atByte int) func() (bank.Bank, []byte) {
	return func() (bank.Bank, []byte) {
		b, rec := ride(warmFour(), 14, nil)
		before := rec.Part(0, 7000).Bytes()
		after := rec.Part(9000, 14000).Restarted("0B0B").Bytes()
		return b, append(append(before[:len(before)-atByte], junk...), after...)
	}
}

func noisy() (bank.Bank, []byte) {
	b, rec := ride(warmFour(), 12, nil)
	random := rand.New(rand.NewPCG(6, 6))
	var stream []byte
	for _, block := range rec.Blocks() {
		switch random.IntN(200) {
		case 0:
			stream = append(stream, fakeboard.Junk(random, 1+random.IntN(60))...)
		case 1:
			block = fakeboard.Flipped(random, block, 1+random.IntN(5))
		}
		stream = append(stream, block...)
	}
	return b, stream
}

var scripts = []script{
	{"engine-off", "the engine stands, hoses on",
		captured(func() engine.Config { return engine.Config{Bank: bank.Default(4), Seed: 12} }, 10, nil)},
	{"cold-start", "a cold four is started after 2 s",
		captured(bike("cold-start", false), 16, at(2, (*engine.Engine).Start))},
	{"warm-idle", "a warm four idles", captured(warmFour, 14, nil)},
	{"blip", "the throttle is opened for a second at 6 s", captured(warmFour, 14, at(6, (*engine.Engine).Blip))},
	{"hose-off", "the hose of cylinder 2 comes off at 6 s",
		captured(warmFour, 14, at(6, func(e *engine.Engine) { e.FailSensor(2, engine.SensorHoseOff) }))},
	{"cable-pulled", "the lead is pulled at 7 s and put back two seconds later", cut("", 9)},
	{"board-reset", "the board starts anew at 7 s and talks its boot loader's language first",
		cut(fakeboard.BootText, 13)},
	{"noise", "one frame in 200 has noise before it, one in 200 has wrong bits", noisy},
	{"twin", "a lumpy twin idles", captured(bike("lumpy-twin", true), 14, nil)},
	{"triple", "a triple idles", captured(bike("triple", true), 14, nil)},
	{"four", "a four whose screws are known idles; screw 1-2 is turned half a turn at 8 s",
		captured(bike("healthy-four", true), 16, at(8, func(e *engine.Engine) { e.Turn(0, 0.5) }))},
	{"vee-four", "a V4 idles", captured(bike("vee-four", true), 14, nil)},
	{"restricted-hoses", "a four idles, damping jets of four sizes in its hoses",
		captured(bike("restricted-hoses", true), 14, nil)},
}

// write makes the capture of a script.
func (s *script) write(t *testing.T) {
	t.Helper()
	b, stream := s.make()
	rec, err := fakeboard.Read(bytes.NewReader(stream[:4096]))
	if err != nil {
		t.Fatal(err)
	}
	bankText, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	// As record writes it, after a zero pass that found no offsets.
	head := capture.Head{{Key: "about", Value: "invented: " + s.about +
		"; made by the practice engine (captures_test.go)"},
		{Key: "program", Value: "evendraw " + version}, {Key: "recorded", Value: "2026-01-01T12:00:00Z"}, {Key: "board",
			Value: rec.About.Serial},
		{Key: "bank", Value: string(bankText)}, {Key: "reference", Value: "1"},
		{Key: "ambient_kpa", Value: fmt.Sprint(engine.DefaultAmbient)}, {Key: "ambient_from",
			Value: string(session.FromZeroPass)},
		{Key: "zeroed", Value: "true"}}
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		t.Fatal(err)
	}
	if err := capture.WriteHead(z, head); err != nil {
		t.Fatal(err)
	}
	z.Write(stream)
	z.Close()
	if err := os.WriteFile(s.path(), out.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
}

func (s *script) path() string { return filepath.Join(capturesDir, s.name+".cap.gz") }

// readings is what a capture's analysis says, rounded, once a second and where the advice changes: its words and its
// JSON by one pass over the bytes, as analyse makes each.
func readings(t *testing.T, path string) string {
	t.Helper()
	set, err := settings.Resolve(&settings.World{}, version, settings.Choice{Garage: t.TempDir()}, settings.NoBike, nil)
	if err != nil {
		t.Fatal(err)
	}
	in, file, err := settings.OpenInput(t.Context(), path, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	cfg, err := set.InputConfig(in, &settings.TableOptions{}, &settings.Notes{Tell: func(string) {}})
	if err != nil {
		t.Fatal(err)
	}
	sum := session.NewSummary(func() pressure.KPa { return cfg.Ambient })
	var text []byte
	sess := session.New(cfg, session.Options{OnReading: func(rd *balance.Reading, c *session.Chain) {
		sum.Push(rd)
		now := c.Config()
		text = append(tell.AppendReading(text, rd, c.Link(), &now, true), '\n')
	}})
	if err := sess.Run(t.Context(), in.Bytes); err != nil {
		t.Fatal(err)
	}
	sum.Finish()
	var b strings.Builder
	sess.Chain(func(c *session.Chain) { tell.Summary(&b, sum, c, pressure.Kilopascal) })
	b.WriteString("\n")
	said, next := "", 0.0
	for _, l := range lines(t, string(text)) {
		a := adviceText(&l)
		if a == said && *l.Time < next {
			continue
		}
		if *l.Time >= next {
			next = float64(int(*l.Time)) + 1
		}
		said = a
		fmt.Fprintf(&b, "%6.2f s  %4s rpm ", *l.Time, rounded(l.RPM, 0))
		for _, c := range l.Cylinders {
			fmt.Fprintf(&b, " | %d: %s %s ±%s %s", c.Cylinder, rounded(c.Draw, 2), rounded(c.Difference, 2),
				rounded(c.Uncertainty, 2), c.State)
		}
		fmt.Fprintf(&b, " | %s\n", a)
	}
	return b.String()
}

func adviceText(l *line) string {
	a := &l.Advice
	text := a.Kind
	if a.Screw != nil {
		text += " " + *a.Screw
	}
	if a.Direction != nil {
		text += " " + *a.Direction
	}
	if a.Turns != nil {
		text += fmt.Sprintf(" %.2f", *a.Turns)
	}
	return text + " (" + a.Why + ")"
}

// rounded writes a figure to so many places, a dash when it is not known. A
// negative zero is a zero.
func rounded(v *float64, places int) string {
	if v == nil {
		return "–"
	}
	text := fmt.Sprintf("%.*f", places, *v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// check makes the capture where that is asked for, holds what is read in it against what was read
// before, and returns how many frames it has.
func (s *script) check(t *testing.T) (frames int) {
	if *makeCaptures {
		s.write(t)
	}
	got := readings(t, s.path())
	golden := strings.TrimSuffix(s.path(), ".cap.gz") + ".golden"
	if *updateGoldens {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("other readings than before:\n%s", firstDifference(string(want), got))
	}
	fmt.Sscanf(got[strings.Index(got, "s, ")+3:], "%d frames", &frames)
	return frames
}

func TestCaptures(t *testing.T) {
	if *makeCaptures {
		if err := os.MkdirAll(capturesDir, 0o755); err != nil {
			t.Fatal(err)
		}
	}
	frames := 0
	for _, s := range scripts {
		t.Run(s.name, func(t *testing.T) { frames += s.check(t) })
	}
	if files, _ := filepath.Glob(filepath.Join(capturesDir, "*.cap.gz")); len(files) != len(scripts) {
		t.Errorf("%d captures, %d scripts", len(files), len(scripts))
	}
	if t.Failed() {
		t.Log("after a look at what changes: go test ./internal/cli -run TestCaptures -update")
		return
	}
	twin := filepath.Join(capturesDir, "twin.cap.gz")
	golden, _ := os.ReadFile(filepath.Join(capturesDir, "twin.golden"))
	if r := evendraw(t, t.TempDir(), "analyse", twin); r.status != 0 || !strings.HasPrefix(string(golden), r.out+"\n") {
		t.Errorf("the verb says otherwise: status %d, %s%s", r.status, r.out, r.err)
	}
	t.Logf("count: %d frames in %d recorded captures, read as before", frames, len(scripts))
}

// firstDifference shows the first lines that differ.
func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range min(len(w), len(g)) {
		if w[i] != g[i] {
			return fmt.Sprintf("line %d\n- %s\n+ %s", i+1, w[i], g[i])
		}
	}
	return fmt.Sprintf("%d lines, now %d", len(w), len(g))
}
