package session

// Renew has the settings chosen anew for the board in force, as when it first
// answered: another bike's card, say. What was learned and counted of the old
// bike is forgotten, but for the user's hand. Without Config.BankOf, or before a board has answered, it does
// nothing.
func (c *Chain) Renew() error {
	if c.cfg.BankOf == nil || c.board == nil {
		return nil
	}
	if c.err = c.chooseSettings(c.board); c.err != nil {
		return c.err
	}
	c.zero, c.pilots, c.tune.state.Pilots = zeroing{}, nil, nil
	c.conv.SetSetup(c.cfg.Setup, c.board)
	c.buildStages()
	c.journal = Journal{}
	return nil
}

// Renew calls change, in which what Config.BankOf looks at may be changed, and
// has the settings chosen anew.
func (s *Session) Renew(change func()) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	change()
	err := s.chain.Renew()
	s.reading, s.wave = nil, nil
	s.publish()
	return err
}
