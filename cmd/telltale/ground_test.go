package main

import (
	"errors"
	"testing"

	"telltale/gateway/offline"
)

// TestGroundSaysWhatItDid: a fit that failed is not counted among those there are.
func TestGroundSaysWhatItDid(t *testing.T) {
	got := fitted([]offline.FittedGround{{House: "long-house", Days: 1730}, {House: "low-house", Days: 4, Err: errors.New("too few days")}}, []string{"one.csv", "two.csv"})
	want := "Read one.csv, two.csv: the ground below 1 of 2 houses with a loop is fitted, to 1,730 daily means; the config is as it was."
	if got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
