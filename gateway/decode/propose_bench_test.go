package decode

import (
	"fmt"
	"strings"
	"testing"
)

// BenchmarkPropose measures the largest payload that is looked at, beside
// which a usual one should cost little.
func BenchmarkPropose(b *testing.B) {
	var large strings.Builder
	for i := range 200 {
		fmt.Fprintf(&large, `,"x%d":%d.5`, i, i%50)
	}
	for name, payload := range map[string]string{
		"usual": `{"temperature":21.4,"humidity":63,"battery":87}`, "large": `{"a":1` + large.String() + "}",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				Propose("a/b", sampled(payload, payload, payload))
			}
		})
	}
}
