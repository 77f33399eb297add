package sensor

import "math"

// piece has the sums of a short stretch of samples, by channel.
type piece struct {
	from    float64 // time of its first sample, s
	n       int     // samples
	sum, sq [MaxChannels]float64
}

// add adds a channel's value of a sample; n counts the sample.
func (p *piece) add(channel int, v float64) {
	p.sum[channel] += v
	p.sq[channel] += v * v
}

// meanSD returns the mean of a channel and the standard deviation about it.
func (p *piece) meanSD(channel int) (mean, sd float64) {
	n := float64(p.n)
	mean = p.sum[channel] / n
	return mean, math.Sqrt(max(p.sq[channel]/n-mean*mean, 0))
}
