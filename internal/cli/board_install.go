package cli

import (
	"github.com/spf13/cobra"

	"evendraw/internal/commission"
	"evendraw/internal/settings"
)

func newBoardInstallCommand(p *program) *cobra.Command {
	var port settings.Port
	yes := false
	cmd := &cobra.Command{
		Use:   "install",
		Short: "Put the board program on a board, through the boot loader that it came with",
		Long: `Put evendraw's board program on a board with an ATmega328P at 16 MHz, through the
serial boot loader that such boards come with (STK500 version 1). Nothing else is
needed: no tools, no programmer. It says what is on the board and asks before it
writes, reads back what it wrote, and starts it. Fuses, boot loader and serial
number stay as they are. A board whose lead came off half way is silent, and is
revived by the next install.

Exit status: 3 no such port, 4 port busy, 5 no permission, 7 board lost half way,
8 no boot loader answers, 9 another chip or clock, 10 what is on the board was
left, 11 an older evendraw program was left.`,
		Example: `  evendraw board install
  evendraw board install --port /dev/ttyUSB0 --yes`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return commission.Install(cmd.Context(), &p.world, port, yes, streams(cmd))
		},
	}
	cmd.Flags().StringVar(&port.Path, "port", "", "serial port of the board (default: the only one there is)")
	cmd.Flags().BoolVar(&yes, "yes", false, "write without asking")
	return cmd
}
