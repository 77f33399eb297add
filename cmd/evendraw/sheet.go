package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"evendraw/internal/garage"
	"evendraw/internal/sheet"
	"evendraw/internal/view"
)

func newSheetCommand(r *rig) *cobra.Command {
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
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := r.anyBike(); err != nil {
				return err
			}
			s, err := r.recordNamed(argument(args, 0))
			if err != nil {
				return err
			}
			p := r.page(s)
			if out == "" {
				out = strings.TrimSuffix(filepath.Base(s.Path), filepath.Ext(s.Path)) + ".html"
				if _, err := os.Stat(out); err == nil && png == "" {
					fmt.Fprintln(cmd.ErrOrStderr(), "writing "+out+" anew")
				}
			}
			if err := writeFile(out, p.HTML); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "wrote "+out)
			if png == "" {
				return nil
			}
			if err := writeFile(png, p.PNG); err != nil {
				return err
			}
			fmt.Fprintln(cmd.OutOrStdout(), "wrote "+png)
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", "", "the HTML file (default: named as the record)")
	cmd.Flags().StringVar(&png, "png", "", "also write a picture for a phone to this file")
	return cmd
}

// page is a record's page, with the bench sheet that held when it was made.
func (r *rig) page(s *garage.StoredSync) *sheet.Page {
	p := &sheet.Page{Record: &s.Record, Unit: r.unit(), Verdict: view.VerdictWords(s.Record.Verdict), Settings: map[string]string{}, Cautions: view.SheetCautions()}
	for _, field := range garage.Fields() {
		p.Settings[field] = view.SettingName(field)
	}
	sheets, _ := r.garage.ListBench(s.Record.Bike)
	for i := range sheets {
		if !sheets[i].Sheet.Time.After(s.Record.Time) {
			p.Bench = &sheets[i].Sheet
		}
	}
	return p
}
