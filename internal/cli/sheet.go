package cli

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/desk"
	"evendraw/internal/settings"
	"evendraw/internal/sheet"
)

func newSheetCommand(p *program) *cobra.Command {
	out, png := settings.Target{Flag: "--out"}, settings.Target{Flag: "--png", Endings: []string{".png"}}
	cmd := &cobra.Command{
		Use:   "sheet [RECORD]",
		Short: "Make one A4 page of a record, for the bike's folder or a customer",
		Long: `Make one A4 page of a record, the newest without a number: HTML that any browser
opens and prints, without a network, or with a name that ends in .png a picture for a
phone. It is written into the folder you are in. With --png, both.`,
		Example: `  evendraw sheet
  evendraw sheet 7 --out four.html --png four.png`,
		Args: cobra.MaximumNArgs(1),
		RunE: p.with(settings.AnyBike, func(cmd *cobra.Command, args []string, set *settings.Settings) error {
			out.Endings, png.Overwrite = []string{".html", ".htm", ".png"}, out.Overwrite
			if err := cmp.Or(out.Check(), png.Check()); err != nil {
				return err
			}
			s, err := desk.RecordNamed(set, argument(args, 0))
			if err != nil {
				return err
			}
			page := sheet.Of(set.Garage, s, set.UnitOf(&s.Kept))
			if out.Name == "" {
				out.Name = sheet.FreeFile(".", &s.Kept)
			}
			for _, to := range []*settings.Target{&out, &png} {
				if to.Name == "" || to == &png && png.Name == out.Name {
					continue
				}
				write := page.HTML
				if to == &png || strings.EqualFold(filepath.Ext(to.Name), ".png") {
					write = page.PNG
				}
				if err := to.Write(write); err != nil {
					return err
				}
				fmt.Fprintln(cmd.OutOrStdout(), "wrote "+to.Name)
			}
			return nil
		}),
	}
	cmd.Flags().StringVar(&out.Name, "out", "",
		"the file, .html or .png (default: the record's day and \"sheet.html\")")
	cmd.Flags().StringVar(&png.Name, "png", "", "also write a picture for a phone to this file, which ends in .png")
	overwriteFlag(cmd.Flags(), &out.Overwrite)
	return cmd
}
