// Package service is what the page asks of the watch behind it: the interfaces
// that package gateway fulfils, and the data they give. It does nothing itself.
package service
