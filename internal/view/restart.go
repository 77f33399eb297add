package view

import "evendraw/internal/session"

// noteRestart says that the board has started anew since the snapshot before, and what that means for its zero, which
// belongs to the board and not to its run.
func (v *View) noteRestart(before, now *session.Snapshot) {
	if before == nil || now == nil || now.Link.Restarts <= before.Link.Restarts {
		return
	}
	text := "Board restarted: it has no zero."
	switch {
	case now.Board != nil && before.Board != nil && now.Board.Serial != before.Board.Serial:
		text = "Another board answers, with settings of its own."
	case now.Zero.Zeroed:
		text = "Board restarted: its zero still holds."
	}
	v.note(text+" If it happens again, look at its USB plug and its supply.", Warn)
}
