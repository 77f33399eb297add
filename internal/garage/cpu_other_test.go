//go:build !unix

package garage

import "time"

var started = time.Now()

// cpuTime is the time since the start, where nothing better is at hand.
func cpuTime() time.Duration { return time.Since(started) }
