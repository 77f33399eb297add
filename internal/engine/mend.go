package engine

// MendHoses puts every hose on its own cylinder's port, as a mechanic does who has
// traced them.
func (e *Engine) MendHoses() {
	e.mu.Lock()
	defer e.mu.Unlock()
	for i := range e.n {
		e.tap[i] = i
	}
}

// SwapHoses exchanges the hoses of two cylinders, counted from 1, at their ports.
// Cylinders that there are not do nothing.
func (e *Engine) SwapHoses(a, b int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if a >= 1 && b >= 1 && a <= e.n && b <= e.n {
		e.tap[a-1], e.tap[b-1] = e.tap[b-1], e.tap[a-1]
	}
}

// MendLeak closes the leak into the runner of a cylinder, counted from 1; without one,
// or for a cylinder that there is not, it does nothing.
func (e *Engine) MendLeak(cylinder int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if cylinder >= 1 && cylinder <= e.n {
		e.cylinder[cylinder-1].leak = 0
	}
}
