package screen

import "testing"

func BenchmarkDraw(b *testing.B) {
	v := states["turn"]
	b.ReportAllocs()
	c := NewCanvas(120, 40)
	for b.Loop() {
		Draw(c, &v)
	}
}
