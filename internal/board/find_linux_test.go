package board

import (
	"context"
	"errors"
	"testing"
	"time"

	"evendraw/internal/fakeboard"
)

// at lists these lines as the ports there are.
func at(lines ...*fakeboard.Line) func() ([]Port, error) {
	return func() (ports []Port, _ error) {
		for _, l := range lines {
			ports = append(ports, Port{Path: l.Path})
		}
		return ports, nil
	}
}

func TestFindTellsTheMostTellingFailure(t *testing.T) {
	mute, held := fakeboard.NewLine(t), fakeboard.NewLine(t).Talk(fakeboard.Announcement("A1", 2))
	open(t, held.Path)
	_, err := Find(t.Context(), Options{Baud: 500_000, Wait: 50 * time.Millisecond, Ports: at(mute, held)})
	mustBe(t, err, Busy)
	broken := errors.New("broken")
	if _, err := Find(t.Context(), Options{Ports: func() ([]Port, error) { return nil, broken }}); !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	if _, err := Find(ctx, Options{Ports: at(mute)}); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("got %v", err)
	}
}
