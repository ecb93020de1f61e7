package page

import (
	"math"
	"regexp"
	"strconv"
	"testing"
)

var colour = regexp.MustCompile(`--([a-z]+): #([0-9a-f]{6})`)

// luminance and contrast are those of WCAG 2.2, "relative luminance" and
// "contrast ratio".
func luminance(hex string) float64 {
	weights := [3]float64{0.2126, 0.7152, 0.0722}
	sum := 0.0
	for i, weight := range weights {
		n, err := strconv.ParseUint(hex[2*i:2*i+2], 16, 8)
		if err != nil {
			return math.NaN()
		}
		c := float64(n) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		sum += weight * c
	}
	return sum
}

func contrast(a, b string) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Text needs 4.5 (success criterion 1.4.3), marks and edges of controls 3
// (1.4.11), in light and in dark.
func TestContrast(t *testing.T) {
	if got := contrast("000000", "ffffff"); math.Abs(got-21) > 1e-9 {
		t.Fatalf("black on white: got %v, want 21", got)
	}
	css, err := files.ReadFile("static/css/10-base.css")
	if err != nil {
		t.Fatal(err)
	}
	found := colour.FindAllStringSubmatch(string(css), -1)
	half := len(found) / 2
	for scheme, list := range map[string][][]string{"light": found[:half], "dark": found[half:]} {
		c := map[string]string{}
		for _, m := range list {
			c[m[1]] = m[2]
		}
		for _, pair := range []struct {
			front, back string
			least       float64
		}{
			{"ink", "paper", 4.5}, {"ink", "sheet", 4.5}, {"ink", "redwash", 4.5}, {"ink", "yellowwash", 4.5},
			{"soft", "paper", 4.5}, {"soft", "sheet", 4.5}, {"soft", "redwash", 4.5}, {"soft", "yellowwash", 4.5},
			{"red", "redwash", 4.5}, {"red", "paper", 4.5}, {"yellow", "yellowwash", 4.5}, {"blue", "paper", 4.5},
			{"blue", "sheet", 4.5}, {"blue", "redwash", 4.5}, {"blue", "yellowwash", 4.5}, {"onblue", "blue", 4.5},
			{"soft", "greenwash", 3}, {"green", "paper", 3}, {"green", "greenwash", 3}, {"line", "paper", 3}, {"line", "greenwash", 3},
			{"red", "greenwash", 3}, {"ink", "greenwash", 3},
			{"ink", "earth", 4.5}, {"soft", "earth", 4.5}, {"ink", "glass", 4.5}, {"soft", "glass", 4.5}, {"red", "glass", 4.5},
			{"red", "earth", 4.5}, {"line", "earth", 3}, {"line", "glass", 3}, {"green", "glass", 3}, {"yellow", "glass", 3}, {"yellow", "earth", 3},
		} {
			if c[pair.front] == "" || c[pair.back] == "" {
				t.Fatalf("%s: no colour %s or %s", scheme, pair.front, pair.back)
			}
			if got := contrast(c[pair.front], c[pair.back]); got < pair.least {
				t.Errorf("%s: %s on %s has a contrast of %.2f, want %v", scheme, pair.front, pair.back, got, pair.least)
			}
		}
	}
}
