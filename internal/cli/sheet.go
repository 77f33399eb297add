package cli

import (
	"evendraw/internal/job"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

func newSheetCommand(p *program) *cobra.Command {
	var out, png string
	cmd := &cobra.Command{
		Use:   "sheet [RECORD]",
		Short: "Make one A4 page of a record, for the bike's folder or a customer",
		Long: `Make one A4 page of a record, the newest without a number: HTML that any browser
opens and prints, without a network. It is written into the folder you are in.
With --png, also a picture for a phone.`,
		Example: `  evendraw sheet
  evendraw sheet 7 --out four.html --png four.png`,
		Args: usageArgs(cobra.MaximumNArgs(1)),
		RunE: p.with(job.AnyBike, func(cmd *cobra.Command, args []string, set *job.Settings) error {
			s, err := set.RecordNamed(argument(args, 0))
			if err != nil {
				return err
			}
			p := set.Page(s)
			if out == "" {
				out = strings.TrimSuffix(filepath.Base(s.Path), filepath.Ext(s.Path)) + ".html"
				if _, err := os.Stat(out); err == nil && png == "" {
					fmt.Fprintln(cmd.ErrOrStderr(), "writing "+out+" anew")
				}
			}
			if err := job.WriteFile(out, p.HTML); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "wrote "+out)
			if png == "" {
				return nil
			}
			if err := job.WriteFile(png, p.PNG); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "wrote "+png)
			return nil
		}),
	}
	cmd.Flags().StringVar(&out, "out", "", "the HTML file (default: named as the record)")
	cmd.Flags().StringVar(&png, "png", "", "also write a picture for a phone to this file")
	return cmd
}
