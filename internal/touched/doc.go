// Package touched tells from how fast runners refill whether the throttle stop is touched. Paces is a stage: spans go
// in (Push), and by how much the butterflies were opened comes out, once that is over.
package touched
