// Package answer has what every handler of the page answers with: errors that
// a visitor may see, and JSON. A handler returns its error before
// it has written anything; who called it makes the page or the JSON of that.
package answer
