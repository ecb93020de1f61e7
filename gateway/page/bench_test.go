package page

import (
	"fmt"
	"testing"

	"telltale/alarms"
)

// BenchmarkDraw draws the live part of a page for two houses and for many
// places, once for all browsers.
func BenchmarkDraw(b *testing.B) {
	for _, places := range []int{7, 250, 1000} {
		b.Run(fmt.Sprintf("%d-places", places), func(b *testing.B) {
			f := newFake()
			f.change(func(p *alarms.Picture) {
				for i := 7; i < places; i++ {
					pl := p.Houses[0].Places[0]
					pl.ID = alarms.PlaceID(fmt.Sprintf("bench-%d", i))
					p.Houses[0].Places = append(p.Houses[0].Places, pl)
				}
			})
			s, err := New(Options{Watch: f})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := s.hub.draw(b.Context(), audience{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
