package draw

import (
	"fmt"
	"strings"

	"github.com/piglig/go-qr"
)

// QR is a QR code (ISO/IEC 18004) of Size by Size modules, with the border of four
// light ones that readers need. Path fills the dark ones.
type QR struct {
	Size int
	Path string
}

const qrBorder = 4 // modules

// NewQR writes text, of at most some hundred letters, so that it is read with a
// seventh of it spoilt (level M). Errors: it is too long.
func NewQR(text string) (QR, error) {
	code, err := go_qr.EncodeText(text, go_qr.Medium)
	if err != nil {
		return QR{}, fmt.Errorf("%d bytes do not go into a QR code: %w", len(text), err)
	}
	n := code.Size()
	var path strings.Builder
	for y := range n {
		for x := 0; x < n; {
			from := x
			for x < n && code.Module(x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", from+qrBorder, y+qrBorder, x-from, x-from)
			}
			x++
		}
	}
	return QR{Size: n + 2*qrBorder, Path: path.String()}, nil
}
