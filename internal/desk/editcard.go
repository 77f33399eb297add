package desk

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"

	"evendraw/internal/garage"
	"evendraw/internal/hint"
	"evendraw/internal/plain"
	"evendraw/internal/settings"
	"evendraw/internal/tell"
	"evendraw/internal/typing"
)

// editor is the user's: VISUAL, EDITOR, else what comes with the system, for which there must be a terminal; nil
// without.
func editor(terminal bool) []string {
	for _, name := range []string{"VISUAL", "EDITOR"} {
		if words := strings.Fields(os.Getenv(name)); len(words) > 0 {
			return words
		}
	}
	if runtime.GOOS == "windows" {
		return []string{"notepad"}
	}
	if !terminal {
		return nil
	}
	for _, name := range []string{"sensible-editor", "nano"} {
		if _, err := exec.LookPath(name); err == nil {
			return []string{name}
		}
	}
	return []string{"vi"}
}

// renamer returns what keeps a bike the one in use under another name, where it is that.
func renamer(g *garage.Garage, bike string) func(name string) {
	last, _ := g.LastBike()
	card, err := g.LoadBike(bike)
	return func(name string) {
		if err == nil && card.Name == last && name != last {
			g.SetLastBike(name) // only a convenience
		}
	}
}

// EditCard opens a bike's card in the user's editor, and keeps what was written once it is a card. What is none is
// left beside, and told; a terminal is asked whether to go on with it.
func EditCard(ctx context.Context, g *garage.Garage, bike string, std settings.Streams) error {
	if bike == "" {
		if bike, _ = settings.InUse(g, false); bike == "" {
			return settings.NoBikeYet(g)
		}
	}
	p, err := g.BikePaths(bike)
	if err != nil {
		return err
	}
	before, err := os.ReadFile(p.Card)
	if os.IsNotExist(err) {
		return settings.NoBikeNamed(g, bike)
	} else if err != nil {
		return err
	}
	keepsInUse := renamer(g, bike)
	program := editor(typing.IsTerminal(std.Out))
	if program == nil {
		return hint.With(fmt.Errorf("there is no terminal for an editor"),
			"VISUAL or EDITOR names one that needs none; the card is "+p.Card)
	}
	dir, err := os.MkdirTemp("", "evendraw")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, "bike.toml")
	if err := os.WriteFile(path, before, 0o600); err != nil {
		return err
	}
	for {
		if err := runEditor(ctx, append(program[:len(program):len(program)], path), std); err != nil {
			return err
		}
		after, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if string(after) == string(before) {
			fmt.Fprintln(std.Out, "nothing was changed")
			return os.RemoveAll(dir)
		}
		b, err := g.ReplaceCard(p.Card, before, after)
		if err == nil {
			keepsInUse(b.Name)
			fmt.Fprintf(std.Out, "the card of %s is saved as you wrote it: %s\n", plain.Text(b.Name), p.Card)
			if note := tell.UnknownKeys(fmt.Sprintf("the card of %q", b.Name), b.Unknown); note != "" {
				std.Warn(note)
			}
			return os.RemoveAll(dir)
		}
		hint.Report(std.Err, hint.With(err, "")) // what to do is asked below
		if !typing.IsTerminal(std.Out) || !askOnce(ctx, std, "Edit it again?") {
			return hint.With(fmt.Errorf("the card is as it was"), "what was written is in "+path)
		}
	}
}

// runEditor lets the user edit a file with a program.
func runEditor(ctx context.Context, words []string, std settings.Streams) error {
	cmd := exec.CommandContext(ctx, words[0], words[1:]...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = std.In, os.Stdout, os.Stderr
	if err := cmd.Run(); err != nil {
		return hint.With(fmt.Errorf("the editor %s: %w", words[0], err),
			"EDITOR names another; the card is as it was")
	}
	return nil
}

// askOnce asks a question that only y or yes agrees to, and reads no further than its answer: what follows is
// another program's. Who ends the program has said no.
func askOnce(ctx context.Context, std settings.Streams, question string) bool {
	fmt.Fprint(std.Err, question+" (y/N): ")
	answer := make(chan string, 1)
	go func() { answer <- readLine(std.In) }()
	select {
	case a := <-answer:
		return strings.EqualFold(a, "y") || strings.EqualFold(a, "yes")
	case <-ctx.Done():
		fmt.Fprintln(std.Err)
		return false
	}
}

// readLine reads a line and no further, without the spaces around it.
func readLine(in io.Reader) string {
	var line []byte
	for b := make([]byte, 1); ; {
		n, err := in.Read(b)
		if n > 0 && b[0] != '\n' {
			line = append(line, b[0])
			continue
		}
		if n > 0 || err != nil {
			return strings.TrimSpace(string(line))
		}
	}
}
