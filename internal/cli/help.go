package cli

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
)

// writeHelp is what --help says of a verb: how it is used comes first, by examples. It and
// writeUsage are functions, because with templates the linker keeps every exported method of the
// program: 3 MB (measured).
func writeHelp(c *cobra.Command, _ []string) {
	text := c.Short + ".\n\n"
	if c.HasExample() {
		text += "Examples:\n" + c.Example + "\n\n"
	}
	if c.Long != "" {
		text += trimmed(c.Long) + "\n\n"
	}
	fmt.Fprint(c.OutOrStdout(), text, c.UsageString())
}

// writeUsage writes the rest: verbs and flags.
func writeUsage(c *cobra.Command) error {
	local, inherited := c.LocalFlags(), c.InheritedFlags()
	text := "Usage:\n"
	if c.Runnable() {
		text += "  " + c.UseLine() + "\n"
	}
	if c.HasAvailableSubCommands() {
		text += "  " + c.CommandPath() + " VERB\n\nVerbs:\n"
		for _, v := range c.Commands() {
			if v.IsAvailableCommand() {
				text += fmt.Sprintf("  %-*s %s\n", v.NamePadding(), v.Name(), v.Short)
			}
		}
	}
	if local.HasAvailableFlags() {
		text += "\nFlags:\n" + trimmed(local.FlagUsages()) + "\n"
	}
	if inherited.HasAvailableFlags() {
		text += "\nFlags of every verb:\n" + trimmed(inherited.FlagUsages()) + "\n"
	}
	if c.HasAvailableSubCommands() {
		text += "\n" + c.CommandPath() + " VERB --help says more.\n"
	}
	_, err := io.WriteString(c.OutOrStderr(), text)
	return err
}

func trimmed(s string) string { return strings.TrimRightFunc(s, unicode.IsSpace) }
