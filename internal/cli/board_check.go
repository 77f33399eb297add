package cli

import (
	"cmp"

	"github.com/spf13/cobra"

	"evendraw/internal/commission"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
)

func newBoardSetupCommand(p *program) *cobra.Command {
	var port settings.Port
	var practiceName string
	cmd := &cobra.Command{
		Use:   "setup",
		Short: "Go step by step from a board that is plugged in to its card",
		Long: `Go step by step from a board that is plugged in to its card: find it, say which
kind of sensor is on it, find out which channel each hose is on by drawing on one
after the other, and learn the sensors' offsets. The engine is off throughout.`,
		PreRunE: func(*cobra.Command, []string) error { return checkPlace(practiceName, port) },
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			return commission.SetUpBoard(cmd.Context(), set, port, practiceName, streams(cmd))
		}),
	}
	portFlags(cmd.Flags(), &port)
	practiceFlag(cmd.Flags(), &practiceName)
	return cmd
}

func newBoardCheckCommand(p *program) *cobra.Command {
	o := &commission.CheckOptions{}
	strict := false
	cmd := &cobra.Command{
		Use:   "check [FILE|PORT]",
		Short: "Look at a board for ten seconds and say what is wrong with it",
		Long: `Look at a board for ten seconds: a verdict on each channel and what to do about
it, the true frame rate, the board's clock against this computer's, what was
lost, damaged or missed, and what errors are left on each channel.

With the engine off every channel must read the air. With it running (outdoors)
every channel must pulse: only then does a hose that is off show.`,
		Example: `  evendraw board check
  evendraw board check morning.cap
  evendraw board check --practice`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			target := argument(args, 0)
			if strict {
				return commission.CheckStrictly(cmd.Context(), &p.world, cmp.Or(target, o.Port.Path), o.Port.Baud,
					o.JSON, streams(cmd))
			}
			if target != "" && !settings.IsFile(target) && o.Port.Path == "" {
				o.Port.Path, target = target, ""
			}
			if target != "" && (o.Practice != "" || o.Port.Path != "") || o.Practice != "" && o.Port.Path != "" {
				return hint.Usagef("a file, --practice and a port: choose one")
			}
			o.File = target
			set, err := p.settings(cmd, bikeNeed(o.Practice))
			if err != nil {
				return err
			}
			return commission.CheckBoard(cmd.Context(), set, o, streams(cmd))
		},
	}
	portFlags(cmd.Flags(), &o.Port)
	practiceFlag(cmd.Flags(), &o.Practice)
	jsonFlag(cmd, &o.JSON, "board, model, program, frames, restarts, overflows, duplicates, nominal_rate, "+
		"clock_error, clock_uncertainty, engine_running, channels (verdict, words, hint, figures of each)")
	cmd.Flags().BoolVar(&strict, "strict", false,
		"for writers of board programs: hold every byte of a port or a file against the protocol")
	return cmd
}
