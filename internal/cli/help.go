package cli

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"evendraw/internal/plain"
)

// writeHelp is what --help says of a verb: how it is used comes first, by examples. It and writeUsage are functions,
// because with templates the linker keeps every exported method of the program: 3 MB (measured).
func writeHelp(c *cobra.Command, _ []string) {
	text := c.Short + ".\n\n"
	if c.HasExample() {
		text += "Examples:\n" + c.Example + "\n\n"
	}
	if c.Long != "" {
		text += trimmed(c.Long) + "\n\n"
	}
	fmt.Fprint(c.OutOrStdout(), wrapped(text), c.UsageString())
}

// helpColumns is how wide help is, in letters: what the narrowest usual terminal, 80, has beside its last column.
const helpColumns = 79

// wrapped breaks help into lines of at most helpColumns. Of an indented line the last column goes on below itself;
// one that has none, such as a command, stays.
func wrapped(text string) string {
	var out, prose []string
	flush := func() {
		if len(prose) > 0 {
			out = append(out, plain.Wrap(strings.Join(prose, " "), helpColumns))
			prose = nil
		}
	}
	for line := range strings.SplitSeq(text, "\n") {
		if line != "" && line[0] != ' ' {
			prose = append(prose, line)
			continue
		}
		flush()
		if at := strings.LastIndex(line, "  ") + 2; at > 1 && strings.TrimSpace(line[:at]) != "" {
			indent := utf8.RuneCountInString(line[:at])
			rest := plain.Wrap(line[at:], helpColumns-indent)
			line = line[:at] + strings.ReplaceAll(rest, "\n", "\n"+strings.Repeat(" ", indent))
		}
		out = append(out, line)
	}
	flush()
	return strings.Join(out, "\n")
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
				text += fmt.Sprintf("  %-*s  %s\n", v.NamePadding(), v.Name(), v.Short)
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
	_, err := io.WriteString(c.OutOrStderr(), wrapped(text))
	return err
}

func trimmed(s string) string { return strings.TrimRightFunc(s, unicode.IsSpace) }
