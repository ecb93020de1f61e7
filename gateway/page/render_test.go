package page

import "testing"

// TestEveryPageParses: a page is parsed when it is first shown, which is too
// late to find that it cannot be.
func TestEveryPageParses(t *testing.T) {
	v, err := readViews()
	if err != nil {
		t.Fatal(err)
	}
	if len(v.pages) < 20 {
		t.Fatalf("found only %d pages", len(v.pages))
	}
	for name, page := range v.pages {
		if _, err := page(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}
