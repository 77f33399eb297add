package cli

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"evendraw/internal/exhaust"
	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/probe"
)

// newGasCommand returns the verb that works lambda out of gas readings.
func newGasCommand() *cobra.Command {
	var g exhaust.Gas
	fuel := exhaust.Petrol
	stoich := garage.DefaultStoichAFR
	asJSON := false
	cmd := &cobra.Command{
		Use:   "gas",
		Short: "Lambda from an analyser's gas readings",
		Long: `Work lambda out of the dry exhaust gas that an analyser reads, by Brettschneider's
balance of carbon, hydrogen and oxygen. HC counts as hexane. Air that leaks into the
exhaust reads lean: 5 % of leaked air, about 5 % lean. For petrol, published figures
give a stoichiometric air/fuel ratio of 14.5 to 14.7, with a tenth of ethanol 13.9 to
14.1: --stoich.`,
		Example: `  evendraw mixture gas --co 0.16 --co2 15.24 --hc 72 --o2 0.86`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if !cmd.Flags().Changed("co2") || !cmd.Flags().Changed("co") || !cmd.Flags().Changed("o2") {
				return hint.Usagef("mixture gas needs at least --co, --co2 and --o2")
			}
			lambda, err := g.Lambda(fuel)
			var wrong *exhaust.GasError
			if errors.As(err, &wrong) {
				return hint.Usagef("%s %g can't be in exhaust", wrong.Field, wrong.Value)
			}
			afr := probe.AFR(lambda, stoich)
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(map[string]float64{"lambda": lambda, "afr": afr})
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "lambda %.3f, air/fuel %.2f (of %.2f)\n", lambda, afr, stoich)
			return err
		},
	}
	f := cmd.Flags()
	decimalVar(f, &g.CO, "co", 0, "CO, % by volume")
	decimalVar(f, &g.CO2, "co2", 0, "CO2, %")
	decimalVar(f, &g.O2, "o2", 0, "O2, %")
	largeVar(f, &g.HCppm, "hc", 0, "HC as hexane, ppm")
	largeVar(f, &g.NOppm, "no", 0, "NO, ppm")
	decimalVar(f, &fuel.HydrogenRatio, "hydrogen", fuel.HydrogenRatio, "atoms of hydrogen to one of carbon in the fuel")
	decimalVar(f, &fuel.OxygenRatio, "oxygen", fuel.OxygenRatio, "atoms of oxygen to one of carbon in the fuel")
	decimalVar(f, &stoich, "stoich", stoich, "the fuel's stoichiometric air/fuel ratio")
	f.BoolVar(&asJSON, "json", false, "print JSON: lambda, afr")
	return cmd
}
