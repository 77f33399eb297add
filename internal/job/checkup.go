package job

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"
	"time"

	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/plain"
	"evendraw/internal/practice"
	"evendraw/internal/sensor"
	"evendraw/internal/session"
	"evendraw/internal/view"
)

// CheckOptions are what the command line says of a board's checkup.
type CheckOptions struct {
	Port     Port
	File     string // a capture instead of a board, - is standard input; "" for none
	Practice string // name of a practice bike instead, "" for none
	JSON     bool
}

// boardCheck is a check being made.
type boardCheck struct {
	set   *Settings
	notes notes
	std   Streams
	board *frame.Announcement
	cfg   session.Config
	card  *garage.Board // nil: nothing is known of the passes
	check *sensor.Checkup
	clock *sensor.ClockFit // nil where this computer's clock says nothing
	stats frame.Stats
}

// IsFile reports whether a target is a capture rather than a port: standard input, a plain file, or a
// name that is none of a port where there is nothing.
func IsFile(target string) bool {
	info, err := os.Stat(target)
	if errors.Is(err, fs.ErrNotExist) {
		return target != "" && !strings.HasPrefix(target, "/dev/") && !strings.HasPrefix(target, `\\.\`) &&
			!strings.HasPrefix(strings.ToUpper(target), "COM")
	}
	return target == "-" || err == nil && info.Mode().IsRegular()
}

// CheckBoard looks at a board and says what is wrong with it.
func CheckBoard(ctx context.Context, set *Settings, o *CheckOptions, std Streams) error {
	c := &boardCheck{set: set, std: std, notes: notes{tell: std.Warn}}
	var err error
	switch {
	case o.File != "":
		err = c.file(ctx, o.File)
	case o.Practice != "":
		err = c.practice(ctx, o.Practice)
	default:
		err = c.live(ctx, o.Port)
	}
	if err != nil {
		return err
	}
	if o.JSON {
		return c.tellJSON(std.Out)
	}
	c.tell(std.Out)
	return nil
}

func (c *boardCheck) live(ctx context.Context, port Port) error {
	link, err := port.open(ctx, c.set.World, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	defer context.AfterFunc(ctx, func() { link.Close() })()
	a := link.Board()
	fmt.Fprintf(c.std.Err, "looking at board %s (%s) for %g s\n", plain.Text(a.Serial), plain.Text(a.Model), sensor.CheckupSeconds)
	c.known(a, c.set.boardConfig(a, &c.notes))
	c.clock = &sensor.ClockFit{}
	return c.watch(ctx, link)
}

// known notes the board, the settings in force, and its card if it has one that fits.
func (c *boardCheck) known(a *frame.Announcement, cfg session.Config) {
	c.board, c.cfg = a, cfg
	if card, err := c.set.Garage.LoadBoard(a.Serial); err == nil {
		fitCard(&card, a, time.Now())
		c.card = &card
	}
}

func (c *boardCheck) practice(ctx context.Context, name string) error {
	pr, err := c.set.practiceBike(practice.Options{Name: name, Ambient: c.set.Ambient})
	if err != nil {
		return err
	}
	fmt.Fprint(c.std.Err, pr.Story())
	fmt.Fprintln(c.std.Err, "practice: the engine stands, the hoses are open; faster than real time")
	c.cfg = pr.Config()
	return c.watch(ctx, pr.Engine)
}

func (c *boardCheck) file(ctx context.Context, name string) error {
	in, file, err := openInput(name, c.std.In)
	if err != nil {
		return err
	}
	defer file.Close()
	if in.Table != nil {
		return Usagef("%s is a table: a check looks at a board's own bytes", name)
	}
	cfg, found, err := configOfHead(in.Head)
	if err != nil {
		return err
	}
	if found {
		c.cfg = cfg
	} else {
		c.cfg = c.set.configOf(garage.Board{})
	}
	if err := c.watch(ctx, in.Bytes); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if s := c.check.Seconds(); s < sensor.CheckupSeconds {
		fmt.Fprintf(c.std.Err, "only %.1f s are in it\n", s)
	}
	return nil
}

// watch reads the source until the checkup is complete, or a file ends.
func (c *boardCheck) watch(ctx context.Context, src io.Reader) error {
	reader := frame.NewReader(src)
	begin := time.Now()
	for {
		f, err := reader.Read()
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		c.stats = reader.Stats()
		if err == io.EOF && c.check != nil {
			return nil
		}
		if err == io.EOF {
			return noFrame(reader.Board(), 0)
		}
		if err != nil {
			return err
		}
		if c.check == nil {
			if c.board == nil {
				c.board = reader.Board()
			}
			c.check = sensor.NewCheckup(c.board, c.cfg.Setup)
		}
		done := c.check.Push(&f)
		if c.clock != nil {
			c.clock.Push(c.check.Seconds(), time.Since(begin).Seconds())
		}
		if done {
			return nil
		}
	}
}

func (c *boardCheck) clockError() (fast, interval float64) {
	if c.clock == nil {
		return math.NaN(), math.NaN()
	}
	return c.clock.Error()
}

func (c *boardCheck) tell(out io.Writer) {
	s, a := c.stats, c.board
	fmt.Fprintf(out, "board %s (%s, program %s): %.1f s, %d frames\n", plain.Text(a.Serial), plain.Text(a.Model), plain.Text(a.Program), c.check.Seconds(), c.check.Frames())
	fmt.Fprintf(out, "  rate     %.1f frames a second by its own clock, %d announced\n", c.check.Rate(), a.Rate)
	if fast, interval := c.clockError(); !math.IsNaN(fast) {
		fmt.Fprintf(out, "  clock    %+.2f %% ±%.2f against this computer's%s\n", 100*fast, 100*interval, clockWords(fast, interval))
	}
	fmt.Fprintf(out, "  line     %d lost, %d damaged, %d twice; %d missed by the board; %d restarts\n", s.Lost, s.Damaged, s.Duplicates, s.Overflows, s.Restarts)
	for _, hint := range lineHints(&s) {
		fmt.Fprintln(out, "           "+hint)
	}
	channels := c.check.Channels()
	engine := "nothing pulses: the engine is off"
	if sensor.Running(channels) {
		engine = "it pulses: the engine runs"
	}
	fmt.Fprintln(out, "  "+engine)
	for i, ch := range channels {
		words, hint := view.ChannelWords(ch.Verdict)
		fmt.Fprintf(out, "  channel %d  %s\n", i, words)
		if a.Channels[i].Role == frame.Pressure {
			fmt.Fprintf(out, "             mean %.1f kPa, swing %.2f kPa rms, counts %d to %d; %s\n", float64(ch.Pressure), float64(ch.SD), ch.Least, ch.Most, plain.Text(c.cfg.Setup.Kind(i).Name))
		}
		if hint != "" {
			fmt.Fprintln(out, "             hint: "+hint)
		}
	}
	if note := leftAside(a, &c.cfg); note != "" && c.clock == nil { // live has told it
		fmt.Fprintln(out, "  "+note)
	}
	if c.card != nil {
		showBudgets(out, c.card, len(a.Channels), func(i int) bool { return a.Channels[i].Role == frame.Pressure })
	}
}

// clockLimit is the error of a clock that is told of. PROTOCOL.md allows the tick 2 %; a quartz keeps 0.01 %, a
// ceramic resonator 0.5 %.
const clockLimit = 0.01

func clockWords(fast, interval float64) string {
	if math.Abs(fast)-interval > clockLimit {
		return ": speeds are off by that much"
	}
	return ""
}

// lineHints say what to do about what was lost.
func lineHints(s *frame.Stats) (hints []string) {
	if s.Damaged > 0 || s.Lost > 0 {
		hints = append(hints, "hint: lost or damaged on the way: another USB lead or socket, away from the ignition leads")
	}
	if s.Overflows > 0 {
		hints = append(hints, "hint: missed by the board: its program is too slow for its rate, or the line too slow for the frames")
	}
	if s.Restarts > 0 {
		hints = append(hints, "hint: it started anew: its supply breaks down, or the ignition disturbs it")
	}
	return hints
}

func (c *boardCheck) tellJSON(out io.Writer) error {
	type budget struct {
		Offset *float64 `json:"offset_kpa"`
		Gain   *float64 `json:"gain_kpa"`
		Steps  *float64 `json:"quantisation_kpa"`
		Drift  *float64 `json:"drift_kpa"`
		Noise  *float64 `json:"noise_kpa"`
		Total  *float64 `json:"total_kpa"`
	}
	type channel struct {
		Channel  int     `json:"channel"`
		Role     string  `json:"role"`
		Verdict  string  `json:"verdict"`
		Words    string  `json:"words"`
		Hint     *string `json:"hint"`
		Sensor   string  `json:"sensor"`
		MeanKPa  float64 `json:"mean_kpa"`
		SwingKPa float64 `json:"swing_kpa"`
		Least    int     `json:"least"`
		Most     int     `json:"most"`
		Mean     float64 `json:"mean"`
		Distinct int     `json:"distinct"`
		RailLow  float64 `json:"rail_low"`
		RailHigh float64 `json:"rail_high"`
		Budget   *budget `json:"budget"`
	}
	channels := []channel{}
	all := c.check.Channels()
	for i, ch := range all {
		words, hint := view.ChannelWords(ch.Verdict)
		j := channel{Channel: i, Role: string(c.board.Channels[i].Role), Verdict: string(ch.Verdict), Words: words, Sensor: c.cfg.Setup.Kind(i).Name,
			MeanKPa: float64(ch.Pressure), SwingKPa: float64(ch.SD), Least: ch.Least, Most: ch.Most, Mean: ch.Mean, Distinct: ch.Distinct, RailLow: ch.RailLow, RailHigh: ch.RailHigh}
		if hint != "" {
			j.Hint = &hint
		}
		if c.card != nil && c.board.Channels[i].Role == frame.Pressure {
			b := budgetOf(c.card, i)
			j.Budget = &budget{known(b.Offset), known(b.Gain), known(b.Quantisation), known(b.Drift), known(b.Noise), known(b.Total)}
		}
		channels = append(channels, j)
	}
	fast, interval := c.clockError()
	s := c.stats
	return json.NewEncoder(out).Encode(map[string]any{
		"board": c.board.Serial, "model": c.board.Model, "program": c.board.Program, "seconds": c.check.Seconds(), "frames": c.check.Frames(),
		"rate": c.check.Rate(), "nominal_rate": c.board.Rate, "clock_error": known(fast), "clock_uncertainty": known(interval),
		"lost": s.Lost, "damaged": s.Damaged, "duplicates": s.Duplicates, "overflows": s.Overflows, "restarts": s.Restarts,
		"engine_running": sensor.Running(all), "channels": channels,
	})
}
