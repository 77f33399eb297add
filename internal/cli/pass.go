package cli

import (
	"cmp"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"evendraw/internal/commission"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
)

// passFlags adds what zero and match have in common.
func passFlags(f *pflag.FlagSet, o *commission.PassOptions, keys string) {
	portFlags(f, &o.Port)
	practiceFlag(f, &o.Practice)
	f.StringVar(&o.From, "from", "", "take the pass from a capture or a table instead (- is standard input)")
	f.BoolVar(&o.JSON, "json", false, "print JSON: board, "+keys+", seconds, saved or not_saved")
	tableFlags(f, &o.Table)
}

func checkPass(cmd *cobra.Command, o *commission.PassOptions) error {
	o.Table.Anew = true
	switch {
	case o.Practice != "" && o.From != "":
		return hint.Usagef("--practice and --from: choose one")
	case o.From != "" && o.Port != (settings.Port{}):
		return hint.Usagef("--from takes the place of a board: it doesn't go with --port and --baud")
	}
	for _, name := range []string{"bits", "sensor", "zeroed", "board"} {
		if o.From == "" && cmd.Flags().Changed(name) {
			return hint.Usagef("--%s is of a table: it goes with --from", name)
		}
	}
	return cmp.Or(checkBits(cmd, o.Table.Bits), checkPlace(o.Practice, o.Port))
}

func newZeroCommand(p *program) *cobra.Command {
	o := &commission.PassOptions{}
	cmd := &cobra.Command{
		Use:   "zero",
		Short: "Learn each sensor's zero error (its offset) with the engine off",
		Long: `Learn each sensor's offset. The engine must be off and every hose open to the
air. Five seconds, more where a channel still settles; the result is kept on the
board's card, with those before it. It is refused, with the reason, when a
pressure pulses, drifts, is noisy or stands at an end of its range, or when a
sensor is off the others by more than three times what its data sheet allows:
two sound ones may stand twice that apart, and age adds to it.

From a capture, the pass bears the date at which that was recorded.`,
		Example: `  evendraw zero
  evendraw zero --from engine-off.cap --json
  evendraw zero --practice`,
		PreRunE: func(cmd *cobra.Command, _ []string) error { return checkPass(cmd, o) },
		RunE:    doing(p, o, nil, commission.Zero),
	}
	passFlags(cmd.Flags(), o, "ambient_kpa, offsets_kpa, uncertainty_kpa and noise_kpa by channel, samples")
	return cmd
}

func newMatchCommand(p *program) *cobra.Command {
	o := &commission.PassOptions{}
	cmd := &cobra.Command{
		Use:   "match",
		Short: "Compare the sensors: learn each one's scale error (its gain), all hoses on one source",
		Long: `Learn by how much each sensor reads too large or too small. First a zero pass. Then put all hoses
on one and the same source: by a tee on one intake port, with the engine idling
(outdoors: its exhaust is poisonous), or on a vacuum hand pump that is worked in steps,
down to 30 kPa or so below the air pressure. Twenty seconds; the zero is left alone. The
result is kept on the board's card.

It is refused, with the reason, when the source is too close to the air pressure
to tell, when a channel does not share it, or when the zero no longer holds.

From a table, or a file that has no zero pass, the zero is taken from its first
seconds, which must be of the engine off or the pump vented.`,
		Example: `  evendraw match
  evendraw match --from tee.cap --json
  evendraw match --practice`,
		PreRunE: func(cmd *cobra.Command, _ []string) error { return checkPass(cmd, o) },
		RunE:    doing(p, o, nil, commission.Match),
	}
	passFlags(cmd.Flags(), o,
		"gains, channels (channel, gain, uncertainty, residual_kpa, bend_kpa), level_kpa, span_kpa, points")
	cmd.Flags().IntSliceVar(&o.Channels, "channels", nil,
		"match these channels only, as 0,1,2 (default: every pressure channel)")
	return cmd
}
