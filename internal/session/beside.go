package session

import "evendraw/internal/cycle"

// spansAtOnce is how many spans are handed over at once, and spanHeaps how many such heaps there are. Chosen: some
// seconds of cycles, as a hand-over one by one costs a good part of what it saves.
const (
	spansAtOnce = 32
	spanHeaps   = 3
)

// spanOf is a span with the counters as of it.
type spanOf struct {
	span cycle.Span
	link Link
}

// beside takes spans to readings in a goroutine beside the one that makes them.
type beside struct {
	heap       []spanOf // that is being filled
	free, full chan []spanOf
}

// newBeside starts the goroutine; push is called there.
func newBeside(push func(*spanOf)) *beside {
	b := &beside{heap: make([]spanOf, 0, spansAtOnce), free: make(chan []spanOf, spanHeaps),
		full: make(chan []spanOf, spanHeaps)}
	for range spanHeaps {
		b.free <- make([]spanOf, 0, spansAtOnce)
	}
	go func() {
		for heap := range b.full {
			for i := range heap {
				push(&heap[i])
			}
			b.free <- heap[:0]
		}
	}()
	return b
}

// hand hands over a copy of a span.
func (b *beside) hand(s *cycle.Span, l Link) {
	b.heap = append(b.heap, spanOf{*s, l})
	if len(b.heap) == spansAtOnce {
		b.pass()
	}
}

// pass passes on the heap that is being filled.
func (b *beside) pass() {
	b.full <- b.heap
	b.heap = <-b.free
}

// settle returns once all that was handed over has been taken.
func (b *beside) settle() {
	b.pass()
	var all [spanHeaps][]spanOf
	for i := range all {
		all[i] = <-b.free
	}
	for _, heap := range all {
		b.free <- heap
	}
}

// end settles, and ends the goroutine.
func (b *beside) end() {
	b.settle()
	close(b.full)
}
