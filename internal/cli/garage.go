package cli

import (
	"time"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/hint"
	"evendraw/internal/settings"
)

func newGarageCommand(p *program) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "garage",
		Short: "Check every file that is kept, and compress old captures",
		Example: `  evendraw garage check
  evendraw garage compress --older 90`,
	}
	cmd.AddCommand(newGarageCheckCommand(p), newGarageCompressCommand(p))
	return cmd
}

func newGarageCheckCommand(p *program) *cobra.Command {
	var asJSON, lookOnly bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Read every file, name what is damaged, and set it aside",
		Long: `Read every card, record, bench card and capture of the garage, and look at their
checksums. A damaged record or sheet is moved into a folder "damaged" beside it:
nothing is deleted, and the rest loads. Cards and captures stay where they are.
What you have no right to read may be whole: it is named, and left alone. Exit status 6
when something was damaged, 5 when all the rest could be read.`,
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			return desk.CheckGarage(set.Garage, lookOnly, asJSON, cmd.OutOrStdout(), cmd.ErrOrStderr())
		}),
	}
	cmd.Flags().BoolVar(&lookOnly, "look-only", false, "move nothing")
	jsonFlag(cmd, &asJSON, "files, damaged (file, problem, newer, no_right, set_aside), unknown_keys (file, keys), "+
		"missing_captures, set_aside_earlier")
	return cmd
}

// packAfterDays is how old a capture is to be before it is compressed. Chosen: by then nobody replays it.
const packAfterDays = 30

func newGarageCompressCommand(p *program) *cobra.Command {
	var days float64
	cmd := &cobra.Command{
		Use:   "compress",
		Short: "Compress old captures; replay and analyse read them as before",
		RunE: p.with(settings.NoBike, func(cmd *cobra.Command, _ []string, set *settings.Settings) error {
			if !(days >= 0) {
				return hint.Usagef("--older %g is no number of days", days)
			}
			older := time.Duration(days * 24 * float64(time.Hour))
			return desk.CompressCaptures(cmd.Context(), set.Garage, older, cmd.OutOrStdout(), cmd.ErrOrStderr())
		}),
	}
	decimalVar(cmd.Flags(), &days, "older", packAfterDays, "only captures that nothing was added to for that many days")
	return cmd
}
