package reports

import (
	"slices"
	"testing"
)

// No name makes a spreadsheet calculate.
func TestNoCellIsAFormula(t *testing.T) {
	got := safeCells([]string{"=1+1", "+bench", "-bench", "@x", "\tx", "-59", "+2.5", "", "bench", "1=1"})
	want := []string{"'=1+1", "'+bench", "'-bench", "'@x", "'\tx", "-59", "+2.5", "", "bench", "1=1"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
