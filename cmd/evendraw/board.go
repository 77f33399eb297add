package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/board"
	"evendraw/internal/frame"
	"evendraw/internal/garage"
	"evendraw/internal/sensor"
)

func newBoardCommand(r *rig) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "board",
		Short: "List, show and check boards",
		Args:  usageArgs(cobra.NoArgs),
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newBoardListCommand(), newBoardShowCommand(r), newBoardCheckCommand())
	return cmd
}

func newBoardListCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "list",
		Short: "List the serial ports on which a board may be",
		Args:  usageArgs(cobra.NoArgs),
		RunE: func(cmd *cobra.Command, _ []string) error {
			ports, err := board.List()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				return &board.Error{Kind: board.NoBoard}
			}
			for _, p := range ports {
				fmt.Fprintf(cmd.OutOrStdout(), "%-16s %s %s\n", p.Path, printable(p.Maker), printable(p.Product))
			}
			return nil
		},
	}
}

func newBoardShowCommand(r *rig) *cobra.Command {
	return &cobra.Command{
		Use:   "show SERIAL",
		Short: "Show the card of a board: sensors and zero",
		Args:  usageArgs(cobra.ExactArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.open(); err != nil {
				return err
			}
			card, err := r.garage.LoadBoard(args[0])
			if err != nil {
				return err
			}
			path, err := r.garage.BoardPath(args[0])
			if err != nil {
				return err
			}
			if _, err := os.Stat(path); err != nil {
				return &hinted{fmt.Errorf("there is no card of a board %q yet", args[0]), "a zero pass makes it: evendraw zero"}
			}
			showBoard(cmd.OutOrStdout(), &card, path)
			return nil
		},
	}
}

func showBoard(out io.Writer, b *garage.Board, path string) {
	fmt.Fprintf(out, "board %s  %s\n  card     %s\n", printable(b.Serial), printable(b.Model), path)
	if len(b.Sensors) == 0 {
		fmt.Fprintf(out, "  sensors  not named: taken for %s\n", sensor.DefaultKind)
	} else {
		fmt.Fprintf(out, "  sensors  %v\n", b.Sensors)
	}
	if b.Zero == nil {
		fmt.Fprintln(out, "  zero     none yet: evendraw zero")
		return
	}
	fmt.Fprintf(out, "  zero     %s, air pressure %.2f kPa\n", b.Zero.Time.Local().Format("2006-01-02 15:04"), float64(b.Zero.AmbientKPa))
	for i, o := range b.Zero.OffsetsKPa {
		fmt.Fprintf(out, "    channel %d  offset %+.3f kPa\n", i, float64(o))
	}
}

type checkOptions struct {
	port   portOptions
	json   bool
	strict bool
}

func newBoardCheckCommand() *cobra.Command {
	o := &checkOptions{}
	cmd := &cobra.Command{
		Use:   "check [FILE|PORT]",
		Short: "Look at a board for ten seconds: rate, losses, and each channel's range",
		Args:  usageArgs(cobra.MaximumNArgs(1)),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.strict {
				return runStrict(cmd.Context(), strings.Join(append(args, o.port.port)[:1], ""), o.port.baud, o.json, cmd.OutOrStdout(), cmd.ErrOrStderr())
			}
			return runBoardCheck(cmd.Context(), o, cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
	o.port.addFlags(cmd.Flags())
	cmd.Flags().BoolVar(&o.json, "json", false, "print JSON")
	cmd.Flags().BoolVar(&o.strict, "strict", false, "for writers of board programs: hold every byte of a port or a file against the protocol")
	return cmd
}

func runBoardCheck(ctx context.Context, o *checkOptions, out, errOut io.Writer) error {
	link, err := o.port.open(ctx, nil)
	if err != nil {
		return err
	}
	defer link.Close()
	defer context.AfterFunc(ctx, func() { link.Close() })()
	a := link.Board()
	fmt.Fprintf(errOut, "looking at board %s (%s) for %g s\n", printable(a.Serial), printable(a.Model), sensor.CheckupSeconds)
	check := sensor.NewCheckup(a, sensor.Setup{})
	reader := frame.NewReader(link)
	for {
		f, err := reader.Read()
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if err != nil {
			return err
		}
		if check.Push(&f) {
			break
		}
	}
	stats := reader.Stats()
	if o.json {
		return tellCheckJSON(out, a, check, stats)
	}
	tellCheck(out, a, check, stats)
	return nil
}

func tellCheck(out io.Writer, a *frame.Announcement, c *sensor.Checkup, s frame.Stats) {
	fmt.Fprintf(out, "%.1f s, %d frames: %.1f a second of %d; %d lost, %d damaged, %d missed by the board\n",
		c.Seconds(), c.Frames(), c.Rate(), a.Rate, s.Lost, s.Damaged, s.Overflows)
	for i, ch := range c.Channels() {
		fmt.Fprintf(out, "  channel %d  %-8s counts %d to %d, %d different  %s\n", i, a.Channels[i].Role, ch.Least, ch.Most, ch.Distinct, channelVerdict(&ch))
	}
}

// deadDistinct is how few different counts in ten seconds call a channel dead.
// Chosen: the noise of a live sensor moves a 10-bit converter by some counts.
const deadDistinct = 2

// channelVerdict says in a few words what a channel's counts look like.
func channelVerdict(c *sensor.ChannelCheckup) string {
	switch {
	case c.RailLow > 0.5:
		return "stands at the low end: wire off, or no supply"
	case c.RailHigh > 0.5:
		return "stands at the high end: ground wire off?"
	case c.RailLow > 0 || c.RailHigh > 0:
		return fmt.Sprintf("touches an end in %.1f %% of the frames", 100*(c.RailLow+c.RailHigh))
	case c.Distinct < deadDistinct:
		return "never moves: dead?"
	}
	return "live"
}

func tellCheckJSON(out io.Writer, a *frame.Announcement, c *sensor.Checkup, s frame.Stats) error {
	type channel struct {
		Channel  int     `json:"channel"`
		Role     string  `json:"role"`
		Least    int     `json:"least"`
		Most     int     `json:"most"`
		Mean     float64 `json:"mean"`
		Distinct int     `json:"distinct"`
		RailLow  float64 `json:"rail_low"`
		RailHigh float64 `json:"rail_high"`
		Verdict  string  `json:"verdict"`
	}
	channels := []channel{}
	for i, ch := range c.Channels() {
		channels = append(channels, channel{i, string(a.Channels[i].Role), ch.Least, ch.Most, math.Round(ch.Mean*1000) / 1000, ch.Distinct, ch.RailLow, ch.RailHigh, channelVerdict(&ch)})
	}
	return json.NewEncoder(out).Encode(map[string]any{
		"board": a.Serial, "model": a.Model, "seconds": c.Seconds(), "frames": c.Frames(), "rate": c.Rate(), "nominal_rate": a.Rate,
		"lost": s.Lost, "damaged": s.Damaged, "overflows": s.Overflows, "channels": channels,
	})
}
