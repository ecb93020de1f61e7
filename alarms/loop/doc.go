// Package loop follows a ground loop of a house: what it brings, whether air passes through
// its pipes, whether water stands in them, whether they wane, and which depth is the better one.
//
// What it delivers is added up whenever one of its readings comes or goes; whether it works is
// judged by samples of what is known at fixed moments, so that it does not matter in which order
// the readings of one moment arrive. What is set by hand names a way in which air passes; what
// was learned of each is laid aside under its name while another holds.
package loop
